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

GALLONS_A_MINUTE = 60 * 1728 / 231
"""Gallons a minute in a cubic foot a second: a gallon is 231 cubic inches, by definition (check M18)."""


@dataclass(frozen=True)
class Section:
    """The wet part of a pipe whose diameter is one: area, wetted perimeter, angle of the water at the centre."""

    area: float
    perimeter: float
    angle: float

    @property
    def radius(self) -> float:
        """Area over wetted perimeter: a quarter of the diameter when full (checks M13, DX08, DX09)."""
        return self.area / self.perimeter


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
    wet = section(depth)
    velocity = FEET / float(n) * (wet.radius * float(diameter)) ** (2 / 3) * math.sqrt(slope)
    return Flow(velocity, velocity * wet.area * float(diameter) ** 2)


def section(depth: float) -> Section:
    """The wet part of a pipe at a `depth` that is a share of the diameter, above 0 to 1. Raises `ValueError`.

    Source: geometry of the circle, checks M04 and M12 to M14.
    """
    if not 0 < depth <= 1:
        raise ValueError("a depth is a share of the diameter, above 0 and up to 1")
    angle = 2 * math.acos(1 - 2 * depth)
    return Section((angle - math.sin(angle)) / 8, angle / 2, angle)


def share_of_full(depth: float) -> Flow:
    """Velocity and discharge at a depth as shares of those of the full pipe, with n the same (checks M15 to M17)."""
    wet, whole = section(depth), section(1.0)
    velocity = float((wet.radius / whole.radius) ** (2 / 3))
    return Flow(velocity, velocity * wet.area / whole.area)


def diameter_for(discharge: float, slope: Fraction, n: Fraction = USUAL_N) -> float:
    """The inside diameter in feet that carries so much when full: Manning's formula turned round, checks M02, M03."""
    of_one = full(Fraction(1), slope, n).discharge
    return float((discharge / of_one) ** (3 / 8))


def slope_for(diameter: Fraction, velocity: float, n: Fraction = USUAL_N) -> float:
    """The slope at which a full pipe runs so fast: Manning's formula turned round, checks M09 to M11."""
    return float((velocity * float(n) / (FEET * (float(diameter) / 4) ** (2 / 3))) ** 2)
