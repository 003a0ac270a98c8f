"""Amounts of a report: each exact, with where in the book it stands and how it is shown."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from fractions import Fraction
from functools import lru_cache
from typing import Any

from assistant.grade.units import FOOT_IN_METRES
from grammar.quantities import Length, Marking
from grammar.spoken import SHOWN_STEP, half_up, show_length


@dataclass(frozen=True)
class Amount:
    """`exact` is in `unit`; `of` names what it is, as "17.reading" for the reading of entry 17."""

    exact: Fraction
    unit: str
    shown: str
    of: str


def feet_of(data: Mapping[str, Any]) -> Fraction:
    """Feet of a length as a book writes it."""
    amount = Fraction(data["amount"])
    return amount / FOOT_IN_METRES if data["unit"] == "m" else amount


shown = lru_cache(maxsize=4096)(show_length)
"""A length in figures; a job shows the same ones again and again."""


def said(data: Mapping[str, Any], of: str) -> Amount:
    """A length as it was said."""
    length = Length(Fraction(data["amount"]), Marking(data["marking"]), Fraction(data["step"]))
    return Amount(length.amount, length.marking.unit, shown(length), of)


def computed(feet: Fraction, marking: Marking, of: str) -> Amount:
    """A computed length, to the step of the rod."""
    length = Length(in_unit(feet, marking), marking, SHOWN_STEP[marking])
    return Amount(length.amount, marking.unit, shown(length), of)


def signed(feet: Fraction, marking: Marking, of: str) -> Amount:
    """A length that may be below zero, with its sign."""
    length = computed(abs(feet), marking, of)
    sign = "+" if feet > 0 else "-" if feet < 0 else ""
    return Amount(in_unit(feet, marking), length.unit, f"{sign}{length.shown}", of)


def in_unit(feet: Fraction, marking: Marking) -> Fraction:
    """Feet in the unit of a marking."""
    return feet * FOOT_IN_METRES if marking is Marking.METRIC else feet


def places_of(step: Fraction) -> int:
    """Decimal places that show a step: 2 for a hundredth."""
    places = 0
    while (step * 10**places).denominator != 1 and places < 6:
        places += 1
    return places


def figures(amount: Fraction, places: int) -> str:
    """A decimal, rounded half up, as columns of figures need it: 107.13, -0.020."""
    scaled = half_up(amount, Fraction(1, 10**places)) * 10**places
    whole, rest = divmod(abs(int(scaled)), 10**places)
    sign = "-" if scaled < 0 else ""
    return f"{sign}{whole}.{rest:0{places}}" if places else f"{sign}{whole}"
