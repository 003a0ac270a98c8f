"""Whether the instrument is true."""

from __future__ import annotations

import math
from dataclasses import dataclass
from fractions import Fraction


def axis_error(first: Fraction, second: Fraction) -> Fraction:
    """How far one axis is off at the rod, from two readings of one point with the laser turned half round between.

    True level is midway, so the error is half the difference. Source: rotating laser manuals (common practice, P05).
    """
    return abs(first - second) / 2


def allowed(accuracy: Fraction, over: Fraction, distance: Fraction) -> Fraction:
    """What an accuracy stated `over` one distance allows at another; it grows with the distance (check P13)."""
    return accuracy * distance / over


@dataclass(frozen=True)
class TwoPeg:
    """What a two-peg test shows: `tilt` of the line of sight, rise over run; what both rods should have read."""

    tilt: Fraction
    first: Fraction
    second: Fraction


def two_peg(
    middle: tuple[Fraction, Fraction], other: tuple[Fraction, Fraction], away: tuple[Fraction, Fraction]
) -> TwoPeg:
    """Compare readings on two pegs from the middle with those from another place.

    `away` are the distances of that place from the first and from the second peg. From the middle the error is the
    same on both rods, so that their difference is true; elsewhere it grows with the distance. Raises `ValueError`
    where both distances are the same. Source: worked examples of both layouts, checks P01 to P03.
    """
    middle_away = (Fraction(0), Fraction(0))
    return peg_test(middle, middle_away, other, away)


def peg_test(
    first: tuple[Fraction, Fraction],
    first_away: tuple[Fraction, Fraction],
    second: tuple[Fraction, Fraction],
    second_away: tuple[Fraction, Fraction],
) -> TwoPeg:
    """Readings on two pegs from any two places, each so far from both pegs; the right readings are the second's.

    Both places see one true difference. Raises `ValueError` where both are as much nearer to one peg than to the other.
    Source: check P04, whose two layouts give two answers.
    """
    unlike = (second_away[0] - second_away[1]) - (first_away[0] - first_away[1])
    if unlike == 0:
        raise ValueError("two set-ups that lie alike to both pegs show no tilt")
    tilt = ((second[0] - second[1]) - (first[0] - first[1])) / unlike
    return TwoPeg(tilt, second[0] - tilt * second_away[0], second[1] - tilt * second_away[1])


def between_marks(accuracy: Fraction, over: Fraction, distance: Fraction) -> Fraction:
    """How far apart the two marks of one axis may be, turned half round between (checks P06, P07)."""
    return 2 * allowed(accuracy, over, distance)


def dialled(level: tuple[Fraction, Fraction], sloped: tuple[Fraction, Fraction], run: Fraction) -> Fraction:
    """The slope a beam really has, from readings on two points before and after it was dialled (check P11)."""
    return ((level[1] - sloped[1]) - (level[0] - sloped[0])) / run


def arc(seconds: Fraction, distance: Fraction) -> Fraction:
    """How far a beam is off that is out by so many seconds of arc, as exact as a float (check P12)."""
    return distance * Fraction(math.tan(math.radians(seconds / 3600)))
