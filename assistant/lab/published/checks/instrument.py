"""Whether an instrument is true."""

from __future__ import annotations

from collections.abc import Callable
from fractions import Fraction
from typing import Any

from assistant.grade import instrument, rods

Pair = list[Fraction]


def _shown(found: instrument.TwoPeg) -> list[Fraction]:
    """Tilt over 100, positive up, and the readings that would be right."""
    return [100 * found.tilt, found.first, found.second]


def _pegs(first: Pair, first_away: Pair, second: Pair, second_away: Pair) -> list[Fraction]:
    pairs = [(each[0], each[1]) for each in (first, first_away, second, second_away)]
    return _shown(instrument.peg_test(*pairs))


def _two_peg(middle: Pair, other: Pair, away: Pair) -> list[Fraction]:
    pairs = [(each[0], each[1]) for each in (middle, other, away)]
    return _shown(instrument.two_peg(*pairs))


CHECKS: dict[str, Callable[..., Any]] = {
    "axis error": lambda *pairs: [instrument.axis_error(first, second) for first, second in pairs],
    "allowed": lambda accuracy, over, *far: [instrument.allowed(accuracy, over, each) for each in far],
    "between marks": lambda accuracy, over, *far: [instrument.between_marks(accuracy, over, each) for each in far],
    "two-peg": _two_peg,
    "peg test": _pegs,
    "dialled": lambda level, sloped, run: 100 * instrument.dialled(tuple(level), tuple(sloped), run),
    "arc": lambda seconds, *far: [instrument.arc(seconds, each) for each in far],
    "lean by angle": lambda upright, *degrees: [rods.lean_by_angle(upright, each) for each in degrees],
    "lean by offset": lambda aside, *read: [rods.lean_by_offset(each, aside) for each in read],
    "out of plumb": lambda upright, *degrees: [rods.sideways(upright, each) for each in degrees],
}
