"""Slope stakes and offset hubs."""

from __future__ import annotations

from collections.abc import Callable
from fractions import Fraction
from typing import Any

from assistant.grade import stakes


def _trials(bed: Fraction, bank: Fraction, centre: Fraction, percent: Fraction) -> list[Fraction]:
    """The first trial and the cut there, then the stake and its cut."""
    first, stake = stakes.catch_distance(bed, bank, centre), stakes.catch_on_slope(bed, bank, centre, percent / 100)
    return [first, centre + percent / 100 * first, stake, centre + percent / 100 * stake]


CHECKS: dict[str, Callable[..., Any]] = {
    "slope stake": stakes.catch_distance,
    "from the shoulder": lambda bank, *heights: [stakes.catch_distance(Fraction(0), bank, each) for each in heights],
    "slope stake on a slope": _trials,
    "below the hub": stakes.below_hub,
}
