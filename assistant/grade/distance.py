"""How far, and how sure of it."""

from __future__ import annotations

from dataclasses import dataclass
from fractions import Fraction

PACING_ERROR = Fraction(1, 50)
"""Pacing is good to about one part in fifty. Source: checks H01 (1/50 to 1/100) and H02 (no better than 2 %)."""


STEEL = Fraction("0.00000645")
"""Share by which steel grows with a degree Fahrenheit (from memory)."""


@dataclass(frozen=True)
class Measured:
    """A distance in feet, and what it may be off either way."""

    length: Fraction
    give_or_take: Fraction


def paced(count: Fraction, pace: Fraction, error: Fraction = PACING_ERROR) -> Measured:
    """`count` steps of `pace` feet, good to the share `error` of itself."""
    length = count * pace
    return Measured(length, length * error)


def pace_of(counts: list[Fraction], course: Fraction) -> Fraction:
    """The length of a pace from counts of steps over a measured `course`, the highest and the lowest count left out.

    Raises `ValueError` for fewer than three counts. Source: field exercise of a surveying course, check H03.
    """
    if len(counts) < 3:
        raise ValueError("pace a measured course at least three times")
    kept = sorted(counts)[1:-1]
    return course * len(kept) / sum(kept, Fraction(0))


def curvature_and_refraction(distance_ft: Fraction) -> Fraction:
    """Feet by which a level sight reads too high: 0.0206 x (thousands of feet)².

    Source: usual US constant, check R07 (the constant from memory; it agrees with 0.574 miles² to 0.001 ft).
    """
    return Fraction(206, 10_000) * (distance_ft / 1000) ** 2


def out_of_line(length: Fraction, aside: Fraction) -> Fraction:
    """What a tape reads too much when one end is so far off level or off line: h² / 2s (check H07)."""
    return aside**2 / (2 * length)


def longer_by_heat(length: Fraction, degrees: Fraction) -> Fraction:
    """How much longer a steel tape is, so many degrees Fahrenheit over its standard (coefficient from memory, H18)."""
    return length * degrees * STEEL
