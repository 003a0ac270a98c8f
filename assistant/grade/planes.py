"""A plane with two slopes, told by two legs that meet: what to dial, and what any other leg gets.

Turns are degrees from the first leg as it is walked, to the left positive. Slopes are rise over run. Rules of plane
geometry: a plane z = a x + b y rises along a leg at an angle t from x by a cos t + b sin t.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from fractions import Fraction

from assistant.grade.sizes import diagonal

NEARLY_ONE_LINE = 20.0
"""Degrees within which two legs hardly fix a plane: small errors of either are blown up. Common practice, no source."""


@dataclass(frozen=True)
class Plane:
    """Rise over run along the first leg, and square to it to the left."""

    along: Fraction
    across: Fraction


@dataclass(frozen=True)
class Point:
    """Feet along the first leg, feet to its left, and height in feet."""

    along: Fraction
    left: Fraction
    height: Fraction


class OneLine(ValueError):
    """The legs, or the points, lie in one line, and fix no plane."""


def of_legs(first: Fraction, turn: Fraction, second: Fraction) -> Plane:
    """The plane of two legs, the second turned by `turn` degrees. Raises `OneLine`.

    Exact where the turn is a right angle, else as exact as a float.
    """
    sine, cosine = _sine(turn), _cosine(turn)
    if abs(sine) < 1e-9:
        raise OneLine(f"a turn of {turn} degrees leaves both legs in one line")
    return Plane(first, (second - first * cosine) / sine)


def of_steepest(fall: Fraction, turn: Fraction) -> Plane:
    """The plane that falls most, by `fall`, in the direction `turn` degrees left of the first leg."""
    return Plane(-fall * _cosine(turn), -fall * _sine(turn))


def through(points: Sequence[Point]) -> Plane:
    """The plane through three points, exactly. Raises `OneLine`.

    Arithmetic: Cramer's rule for the two slopes between the first point and the others.
    """
    first, *others = points
    (x1, y1, z1), (x2, y2, z2) = (
        (point.along - first.along, point.left - first.left, point.height - first.height) for point in others
    )
    area = x1 * y2 - x2 * y1
    if area == 0:
        raise OneLine("three points in one line fix no plane")
    return Plane((z1 * y2 - z2 * y1) / area, (x1 * z2 - x2 * z1) / area)


def slope_at(plane: Plane, turn: Fraction) -> Fraction:
    """What a leg gets that is turned by `turn` degrees from the first."""
    return plane.along * _cosine(turn) + plane.across * _sine(turn)


def steepest(plane: Plane) -> tuple[Fraction, Fraction]:
    """The steepest fall of a plane as a positive slope, and its direction in degrees left of the first leg.

    Degrees are from -180 to 180; of a level plane both are 0.
    """
    down = (float(-plane.along), float(-plane.across))
    return diagonal(plane.along, plane.across), Fraction(math.degrees(math.atan2(down[1], down[0])) if any(down) else 0)


def nearly_one_line(turn: Fraction) -> bool:
    """Whether legs at this turn fix their plane badly."""
    return abs(_sine(turn)) < math.sin(math.radians(NEARLY_ONE_LINE))


def _sine(degrees: Fraction) -> Fraction:
    return _cosine(degrees - 90)


def _cosine(degrees: Fraction) -> Fraction:
    """Exact at right angles, where a float is not."""
    quarter = degrees % 360 / 90
    if quarter.denominator == 1:
        return Fraction((1, 0, -1, 0)[int(quarter)])
    return Fraction(math.cos(math.radians(degrees)))


def rise_to(plane: Plane, along: Fraction, left: Fraction) -> Fraction:
    """How much higher the plane is at a point than at the start (check D11)."""
    return plane.along * along + plane.across * left


def twist(corners: tuple[Fraction, Fraction, Fraction, Fraction]) -> Fraction:
    """How far four corners of a rectangle, in order around it, are from one plane; a quarter is left at each (D13)."""
    return corners[0] - corners[1] + corners[2] - corners[3]
