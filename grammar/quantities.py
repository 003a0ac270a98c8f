"""Amounts as a person says them: exact, with their unit and how finely they were said."""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum
from fractions import Fraction


class Marking(StrEnum):
    """How a rod is marked, and so how lengths are said: the unit, and how its parts are counted."""

    INCHES = "feet and inches"
    TENTHS = "tenths of a foot"
    METRIC = "metres"

    @property
    def unit(self) -> str:
        """`ft` or `m`: the unit of `Length.amount`."""
        return "m" if self is Marking.METRIC else "ft"


@dataclass(frozen=True)
class Length:
    """An exact length of `amount` feet (inches and tenths) or metres (metric), said to `step`.

    `step` is in the same unit and is the smallest part that was said: 1/12 for "three foot nine",
    1/96 for "three foot nine and an eighth", 1/100 for "three point seven five", 1 for "sixty
    feet".
    """

    amount: Fraction
    marking: Marking
    step: Fraction


class Side(StrEnum):
    """Which way, as the line or the leg is walked."""

    LEFT = "left"
    RIGHT = "right"


@dataclass(frozen=True)
class Offset:
    """How far to one side of a line, square to it."""

    distance: Length
    side: Side


@dataclass(frozen=True)
class Station:
    """A place along a line: its distance from station zero; beside the line, its offset."""

    distance: Length
    offset: Offset | None = None


@dataclass(frozen=True)
class Spot:
    """A place with a name of its own, such as "post three"."""

    name: str
    number: int | None


Place = Station | Spot


@dataclass(frozen=True)
class Paces:
    """A distance counted in steps."""

    count: Fraction


Distance = Length | Paces
"""How far: measured, or paced."""


class SlopeUnit(StrEnum):
    """The ways a slope is said."""

    PERCENT = "percent"
    INCH_PER_FOOT = "inches per foot"
    ONE_IN = "one in"
    DEGREES = "degrees"


@dataclass(frozen=True)
class Slope:
    """The size of a slope: `amount` percent, inches per foot, degrees, or N of "one in N". Never
    negative.
    """

    amount: Fraction
    unit: SlopeUnit


@dataclass(frozen=True)
class Turn:
    """A turn by degrees from the first leg."""

    degrees: Fraction
    side: Side

    @property
    def left(self) -> Fraction:
        """Degrees to the left; to the right they are negative."""
        return self.degrees if self.side is Side.LEFT else -self.degrees


@dataclass(frozen=True)
class Bearing:
    """Where a leg points: degrees from north, clockwise, from 0 to under 360."""

    degrees: Fraction


class Direction(StrEnum):
    """Which way a line goes as the stations count up."""

    FALLING = "falling"
    RISING = "rising"
    LEVEL = "level"


class Across(StrEnum):
    """How a surface lies square to its line."""

    LEFT = "falling left"
    RIGHT = "falling right"
    CROWN = "falling both ways"
    SWALE = "rising both ways"


@dataclass(frozen=True)
class SideSlope:
    """A bank: so many across for one up or down, as "two to one" is said of earthwork."""

    across: Fraction


def turn_between(one: Bearing, other: Bearing) -> Turn:
    """How far, and to which side, a leg turns from another: never more than half round."""
    right = (other.degrees - one.degrees) % 360
    return Turn(right, Side.RIGHT) if right <= 180 else Turn(360 - right, Side.LEFT)
