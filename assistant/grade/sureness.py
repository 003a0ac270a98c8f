"""How far one cut or fill may be off, either way, and by what.

Lengths are feet. The parts are independent, so that the whole is the root of the sum of their squares (usual rule of
error propagation, from memory; compare check H19).
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from fractions import Fraction

from assistant.grade.distance import PACING_ERROR, curvature_and_refraction

TAPING_ERROR = Fraction(1, 1000)
"""An ordinary steel tape is good to one part in a thousand or better. Source: check H01 (1/1000 to 1/10000)."""

LEAN = Fraction(2)
"""Degrees by which a rod without a bubble leans unnoticed. Common practice, no source."""

FINEST = Fraction(1, 10_000)
"""Feet to which a doubt is kept."""


def parts(
    *,
    reading: Fraction,
    step: Fraction,
    sight: Fraction | None,
    accuracy: Fraction | None,
    receiver: Fraction | None,
    along: Fraction,
    paced: bool | None,
) -> dict[str, Fraction]:
    """What each cause can make of a reading compared with its grade.

    `reading` was said to `step`; `accuracy` is the laser's, as feet in a foot of `sight`; `receiver` is its band;
    `along` is how far grade moves over the whole distance from the start of the line, which was `paced`, taped or
    measured (none).
    """
    found = {"rounding": step / 2, "lean": _upward(reading * Fraction(1 - math.cos(math.radians(LEAN))))}
    if receiver is not None:
        found["receiver"] = receiver
    if sight is not None:
        found["curvature"] = curvature_and_refraction(sight)
        if accuracy is not None:
            found["beam"] = accuracy * sight
    if paced is not None:
        found["distance"] = abs(along) * (PACING_ERROR if paced else TAPING_ERROR)
    return {cause: _upward(amount) for cause, amount in found.items() if amount}


def together(each: Mapping[str, Fraction]) -> Fraction:
    """The whole doubt, rounded up."""
    return _upward(Fraction(math.sqrt(sum(amount**2 for amount in each.values()))))


def _upward(amount: Fraction) -> Fraction:
    return math.ceil(amount / FINEST) * FINEST


def slope_doubt(band: Fraction, run: Fraction) -> Fraction:
    """How far a slope may be off between two points that are each off by up to `band`, in opposite ways (check H17)."""
    return 2 * band / run


def share_each(whole: Fraction, count: int, *, random: bool) -> Fraction:
    """What each of some lengths may be off when all may be off by `whole`: straight sum, or square root (check H19)."""
    return whole / Fraction(math.sqrt(count)) if random else whole / count
