"""One slope, said in different units. The slope itself is rise over run, exact but where degrees are meant."""

from __future__ import annotations

import math
from fractions import Fraction

PERCENT = "percent"
INCH_PER_FOOT = "inches per foot"
ONE_IN = "one in"
DEGREES = "degrees"


def rise_over_run(amount: Fraction, unit: str) -> Fraction:
    """The slope of `amount` of `unit`. Raises `ValueError` for an unknown unit or "one in zero"."""
    if unit == PERCENT:
        return amount / 100
    if unit == INCH_PER_FOOT:
        return amount / 12
    if unit == ONE_IN:
        if amount == 0:
            raise ValueError("one in zero is no slope")
        return 1 / amount
    if unit == DEGREES:
        return Fraction(math.tan(math.radians(amount)))
    raise ValueError(f"{unit!r} is no unit of slope")


def slope_amount(slope: Fraction, unit: str) -> Fraction | None:
    """How much of `unit` a slope is; none for a level slope as "one in". Degrees are exact only as a float is."""
    if unit == PERCENT:
        return slope * 100
    if unit == INCH_PER_FOOT:
        return slope * 12
    if unit == ONE_IN:
        return None if slope == 0 else 1 / slope
    if unit == DEGREES:
        return Fraction(math.degrees(math.atan(slope)))
    raise ValueError(f"{unit!r} is no unit of slope")


def rise(run: Fraction, slope: Fraction) -> Fraction:
    """Rise over a horizontal distance, in the unit of `run`."""
    return run * slope


def slope_length(run: Fraction, slope: Fraction) -> Fraction:
    """The length along the slope over a horizontal `run`: run x sqrt(1 + slope²), as exact as a float."""
    return Fraction(math.hypot(run, run * slope))


def run_of_slope_length(length: Fraction, rise: Fraction) -> Fraction:
    """The horizontal run under a length measured along the slope: sqrt(length² - rise²), as exact as a float."""
    return Fraction(math.sqrt(length**2 - rise**2))
