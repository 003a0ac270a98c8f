"""Water in a round pipe that runs full or part full, by Manning's formula.

Lengths are feet, so that flow is cubic feet a second. Roots make the answers floats.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from fractions import Fraction

FEET = 0.3048 ** (-1 / 3)
"""Manning's constant for feet, 1.486: the formula was made for metres."""

USUAL_N = Fraction(13, 1000)
"""Roughness that codes count with for sewers. Source: checks C17 and M07."""

CLEANSING = 2.0
"""Feet a second, flowing full, that carry sediment along. Source: check C17 (quotes a standard that was not read)."""

GALLONS_A_MINUTE = 448.83
"""Gallons a minute in a cubic foot a second. Source: check M18."""


@dataclass(frozen=True)
class Flow:
    """Velocity in feet a second, and cubic feet a second."""

    velocity: float
    discharge: float


def full(diameter: Fraction, slope: Fraction, n: Fraction = USUAL_N) -> Flow:
    """The flow of a pipe that runs full without pressure. Source: Manning's formula, checks M01, M07 and M08."""
    return part_full(diameter, slope, 1.0, n)


def part_full(diameter: Fraction, slope: Fraction, depth: float, n: Fraction = USUAL_N) -> Flow:
    """The flow at a `depth` that is a share of the diameter, above 0 to 1, with n the same at every depth.

    Raises `ValueError` for another depth. Source: geometry of the circle, checks M12 to M17.
    """
    if not 0 < depth <= 1:
        raise ValueError("a depth is a share of the diameter, above 0 and up to 1")
    angle = 2 * math.acos(1 - 2 * depth)
    area = float(diameter) ** 2 / 8 * (angle - math.sin(angle))
    radius = area / (angle * float(diameter) / 2)
    velocity = FEET / float(n) * radius ** (2 / 3) * math.sqrt(slope)
    return Flow(velocity, velocity * area)


def slope_for(diameter: Fraction, velocity: float, n: Fraction = USUAL_N) -> float:
    """The slope at which a full pipe runs so fast: Manning's formula turned round, checks M09 to M11."""
    return float((velocity * float(n) / (FEET * (float(diameter) / 4) ** (2 / 3))) ** 2)
