"""Elevations from a benchmark, a set-up and rod readings; cut and fill."""

from __future__ import annotations

from dataclasses import dataclass
from fractions import Fraction
from typing import Literal

Kind = Literal["cut", "fill", "on grade"]


@dataclass(frozen=True)
class Grade:
    """How a point stands to grade: to cut or to fill by `amount` feet (never negative), or on grade."""

    kind: Kind
    amount: Fraction


def height_of_instrument(elevation: Fraction, backsight: Fraction) -> Fraction:
    """Elevation of the beam, from a known elevation and the reading on it.

    HI = elevation + backsight. Source: usual level notes, as in the published sets L01 to L22 of the checks.
    """
    return elevation + backsight


def elevation(instrument: Fraction, reading: Fraction) -> Fraction:
    """Elevation of the point under the rod: HI - reading; an inverted rod reads negative."""
    return instrument - reading


def grade_rod(instrument: Fraction, grade: Fraction) -> Fraction:
    """What the rod reads when its foot is at the elevation `grade`: HI - grade."""
    return instrument - grade


def cut_or_fill(grade_rod: Fraction, reading: Fraction, tolerance: Fraction) -> Grade:
    """Compare a reading with the grade rod; within `tolerance` (inclusive) it is on grade.

    Cut where the reading is smaller than the grade rod, for then the ground is high. Source: slope-stake rule of a
    US Navy training manual, check O09.
    """
    high = grade_rod - reading
    if abs(high) <= tolerance:
        return Grade("on grade", abs(high))
    return Grade("cut" if high > 0 else "fill", abs(high))
