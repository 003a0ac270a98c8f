"""Rodside: an offline, hands-free assistant for the person who holds the grade rod."""
