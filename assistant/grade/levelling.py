"""A run of levels from set-up to set-up: elevations, the page check, how it closes, and the share of each set-up."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from fractions import Fraction
from itertools import accumulate, pairwise
from typing import Literal

from assistant.grade import levels

Closing = Literal["high", "low", "exactly"]


@dataclass(frozen=True)
class Setup:
    """Readings of one set-up: a backsight, sights to points beside the run, and the foresight that ends it."""

    backsight: Fraction
    sights: tuple[Fraction, ...]
    foresight: Fraction


@dataclass(frozen=True)
class Worked:
    """A set-up worked out: the instrument, and the points in the order they were read, the turning point last."""

    instrument: Fraction
    points: tuple[Fraction, ...]


def worked(known: Fraction, run: Sequence[Setup]) -> list[Worked]:
    """Every elevation of a run from a known one, by the height of the instrument. Source: checks L01 to L21."""
    found, at = [], known
    for setup in run:
        instrument = levels.height_of_instrument(at, setup.backsight)
        points = tuple(levels.elevation(instrument, reading) for reading in (*setup.sights, setup.foresight))
        found.append(Worked(instrument, points))
        at = points[-1]
    return found


def rise_and_fall(known: Fraction, run: Sequence[Setup]) -> list[Fraction]:
    """The same elevations from reading to reading, with no height of the instrument. Source: check L06."""
    steps = []
    for setup in run:
        readings = (setup.backsight, *setup.sights, setup.foresight)
        steps += [before - after for before, after in pairwise(readings)]
    return list(accumulate(steps, initial=known))[1:]


def page_check(backsights: Sequence[Fraction], foresights: Sequence[Fraction]) -> Fraction:
    """Sum of backsights less sum of foresights, which is the last elevation less the first.

    It proves the sums and not the field work. Source: checks L01 to L16.
    """
    return sum(backsights, Fraction(0)) - sum(foresights, Fraction(0))


def misclosure(computed: Fraction, known: Fraction) -> Fraction:
    """Computed less known. Books differ about the sign (check X01), so that it is never told bare: see `closes`."""
    return computed - known


def closes(computed: Fraction, known: Fraction) -> tuple[Closing, Fraction]:
    """How a run closes, in words, and by how much, never negative."""
    off = misclosure(computed, known)
    return ("exactly" if off == 0 else "high" if off > 0 else "low"), abs(off)


def equal_corrections(off: Fraction, setups: int) -> list[Fraction]:
    """What each set-up's points are corrected by, growing along the run. Source: checks L02, L04, L09, L13, L22."""
    return [-off * number / setups for number in range(1, setups + 1)]


def corrections_by_distance(off: Fraction, lengths: Sequence[Fraction]) -> list[Fraction]:
    """The same by the length of each set-up. Raises `ValueError` where they have none. Source: rule of the checks."""
    whole = sum(lengths, Fraction(0))
    if whole <= 0:
        raise ValueError("a run without length cannot be adjusted by distance")
    return [-off * along / whole for along in accumulate(lengths)]


def adjusted(run: Sequence[Worked], corrections: Sequence[Fraction]) -> list[Fraction]:
    """Every point with the correction of its own set-up."""
    return [point + more for setup, more in zip(run, corrections, strict=True) for point in setup.points]


def allowable(coefficient: Fraction, length: Fraction) -> Fraction:
    """Misclosure allowed over a length: coefficient x sqrt(length), as exact as a float. Source: checks T01 to T10."""
    return coefficient * Fraction(math.sqrt(length))


def of_setups(each: Fraction, setups: int) -> Fraction:
    """What set-ups that are each good to so much make together: each x sqrt(number), from memory (check T11)."""
    return each * Fraction(math.sqrt(setups))


def per_root_mile(millimetres: Fraction) -> Fraction:
    """Millimetres x sqrt(kilometres) as feet x sqrt(miles). Source: check T03."""
    return millimetres * Fraction(10, 3048) * Fraction(math.sqrt(Fraction("1.609344")))


def wire_slip(upper: Fraction, middle: Fraction, lower: Fraction) -> Fraction:
    """How far the middle of three wires is from the mean of the others: a slip of reading shows here (check X24)."""
    return abs(middle - (upper + lower) / 2)
