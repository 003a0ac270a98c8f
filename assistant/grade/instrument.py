"""Whether the instrument is true."""

from __future__ import annotations

from fractions import Fraction


def axis_error(first: Fraction, second: Fraction) -> Fraction:
    """How far one axis is off at the rod, from two readings of one point with the laser turned half round between.

    True level is midway, so the error is half the difference. Source: rotating laser manuals (common practice, P05).
    """
    return abs(first - second) / 2


def allowed(accuracy: Fraction, over: Fraction, distance: Fraction) -> Fraction:
    """What an accuracy stated `over` one distance allows at another; it grows with the distance (check P13)."""
    return accuracy * distance / over
