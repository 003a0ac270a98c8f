"""Exact arithmetic of levels, lines and slopes. Lengths are feet as `Fraction`, slopes rise over run."""
