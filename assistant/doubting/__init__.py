"""How likely it is that a number was misheard, and so whether to write it, to ask, or to have it said again."""
