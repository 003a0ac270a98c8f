"""A rod that is not plumb: it always reads too much, so that the point seems too low. As exact as a float."""

from __future__ import annotations

import math
from fractions import Fraction


def lean_by_angle(upright: Fraction, degrees: Fraction) -> Fraction:
    """How much too big a reading gets that would be `upright` on a plumb rod: upright x (1/cos - 1), check H11."""
    return upright * Fraction(1 / math.cos(math.radians(degrees)) - 1)


def lean_by_offset(read: Fraction, aside: Fraction) -> Fraction:
    """How much too big a reading is where the rod is `aside` of plumb: read - sqrt(read² - aside²), check H12."""
    return read - Fraction(math.sqrt(read**2 - aside**2))


def sideways(upright: Fraction, degrees: Fraction) -> Fraction:
    """How far the rod is out of plumb at that height (check H10)."""
    return upright * Fraction(math.tan(math.radians(degrees)))
