"""Whether the instrument is true."""

from __future__ import annotations

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
    if away[0] == away[1]:
        raise ValueError("a set-up as far from one peg as from the other shows no tilt")
    tilt = ((other[0] - other[1]) - (middle[0] - middle[1])) / (away[0] - away[1])
    return TwoPeg(tilt, other[0] - tilt * away[0], other[1] - tilt * away[1])
