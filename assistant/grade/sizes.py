"""Sizes of flatwork: diagonals for square corners, and volumes."""

from __future__ import annotations

import math
from fractions import Fraction

CUBIC_FEET_IN_A_YARD = Fraction(27)


def diagonal(length: Fraction, width: Fraction) -> Fraction:
    """The diagonal of a rectangle, in the unit of its sides; as exact as a float where it has no end."""
    square = length**2 + width**2
    over, under = math.isqrt(square.numerator), math.isqrt(square.denominator)
    if over**2 == square.numerator and under**2 == square.denominator:
        return Fraction(over, under)
    return Fraction(math.sqrt(square))


def slab_cubic_yards(length: Fraction, width: Fraction, thickness: Fraction) -> Fraction:
    """Cubic yards of a slab with sides in feet. Nothing is added for waste."""
    return length * width * thickness / CUBIC_FEET_IN_A_YARD
