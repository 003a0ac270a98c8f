"""What lies above and below the invert of a pipe, in feet."""

from __future__ import annotations

from fractions import Fraction

ZERO = Fraction(0)


def top_of_pipe(invert: Fraction, outside: Fraction, wall: Fraction) -> Fraction:
    """Elevation of the top of a pipe of so great an `outside` diameter: invert + outside - wall (check G07)."""
    return invert + outside - wall


def trench_bottom(invert: Fraction, wall: Fraction = ZERO, bedding: Fraction = ZERO) -> Fraction:
    """Elevation to dig to: the invert lies a wall and the bedding above it (checks G20, G21)."""
    return invert - wall - bedding


def board_height(invert: Fraction, above: Fraction, stake: Fraction) -> Fraction:
    """How high over a stake the board, string or rail stands that is `above` the invert (checks G11, G18)."""
    return invert + above - stake


def boning_rod(rod: Fraction, depth: Fraction) -> Fraction:
    """What of a boning rod of fixed length stands out of a ditch of that `depth` (check G12)."""
    return rod - depth
