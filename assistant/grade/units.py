"""Our own small registry of units, exact; `units.txt` defines them."""

from __future__ import annotations

from fractions import Fraction
from functools import cache
from importlib.resources import files
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    import pint

FOOT_IN_METRES = Fraction(381, 1250)
"""Metres in an international foot: 0.3048 exactly, by its definition of 1959."""


@cache
def registry() -> pint.UnitRegistry[Fraction]:
    """The registry, made on first use: the units library takes a quarter of a second to load."""
    import pint

    units: pint.UnitRegistry[Fraction] = pint.UnitRegistry(None, non_int_type=Fraction)
    units.load_definitions(files("assistant.grade").joinpath("units.txt").read_text().splitlines())
    return units


def convert(amount: Fraction, unit: str, into: str) -> Fraction:
    """Convert exactly. Raises the units library's errors, which are also `AttributeError` or `TypeError`."""
    return Fraction(registry().Quantity(amount, unit).to(into).magnitude)
