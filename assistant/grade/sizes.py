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


def covered_by_a_yard(thickness: Fraction) -> Fraction:
    """Square feet that a cubic yard covers, so many feet thick (check B08)."""
    return CUBIC_FEET_IN_A_YARD / thickness


def trapezoid(length: Fraction, one: Fraction, other: Fraction) -> Fraction:
    """Area of a strip that tapers from one width to the other (check B10)."""
    return length * (one + other) / 2


def round_hole(diameter: Fraction, depth: Fraction) -> Fraction:
    """Volume of a round hole or a round post, as exact as a float (checks B15 to B19)."""
    return Fraction(math.pi) / 4 * diameter**2 * depth


def bag_yield(pounds: Fraction) -> Fraction:
    """Cubic feet of concrete from a bag: 80 lb make 0.60 (check B14)."""
    return pounds * 6 / 800


def bags(cubic_feet: Fraction, pounds: Fraction) -> int:
    """Whole bags for a volume (checks B15, B19)."""
    return math.ceil(cubic_feet / bag_yield(pounds))
