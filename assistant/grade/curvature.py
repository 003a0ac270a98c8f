"""How far a level line of sight leaves the ground that curves away under it, in the unit of its length."""

from __future__ import annotations

import math
from fractions import Fraction

from assistant.grade.distance import curvature_and_refraction

EARTH_FT = Fraction(20_902_880)
"""Radius of the earth in feet. Source: check R02."""

EARTH_M = EARTH_FT * Fraction(381, 1250)
"""The same in metres."""

REFRACTION_SHARE = Fraction(1, 7)
"""Share of the curvature that refraction takes back. Source: check R11."""


def curvature(distance: Fraction, radius: Fraction = EARTH_FT) -> Fraction:
    """What the earth alone makes a reading too high: distance² / (2 x radius). Source: checks R01 to R03."""
    return distance**2 / (2 * radius)


def refraction(distance: Fraction, radius: Fraction = EARTH_FT) -> Fraction:
    """What the air takes back of it. Source: check R04."""
    return curvature(distance, radius) * REFRACTION_SHARE


def combined(distance: Fraction, radius: Fraction = EARTH_FT) -> Fraction:
    """Both together. Source: check R05."""
    return curvature(distance, radius) - refraction(distance, radius)


def sight_for(error: Fraction) -> Fraction:
    """Feet of sight at which both together reach an error in feet, with the constant in use. Source: check R10."""
    return Fraction(math.sqrt(error / curvature_and_refraction(Fraction(1))))
