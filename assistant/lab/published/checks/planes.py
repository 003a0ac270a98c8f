"""Planes of two legs. Legs are told by the azimuth that they fall toward; azimuths turn right, legs turn left."""

from __future__ import annotations

import math
from collections.abc import Callable
from fractions import Fraction
from typing import Any

from assistant.grade import planes, profile, slope


def _plane(
    azimuth: Fraction, fall: Fraction, other: Fraction, other_fall: Fraction, unit: str = slope.PERCENT
) -> planes.Plane:
    falls = [-slope.rise_over_run(each, unit) for each in (fall, other_fall)]
    return planes.of_legs(falls[0], azimuth - other, falls[1])


def _of_legs(
    azimuth: Fraction, fall: Fraction, other: Fraction, other_fall: Fraction, unit: str, into: str
) -> list[Any]:
    steepest, left = planes.steepest(_plane(azimuth, fall, other, other_fall, unit))
    return [slope.slope_amount(steepest, into), (azimuth - left) % 360]


def _square(pair: list[Fraction]) -> planes.Plane:
    return planes.of_legs(-pair[0] / 100, Fraction(90), -pair[1] / 100)


def _of_points(*points: list[Fraction]) -> planes.Plane:
    """Points told by height, distance and azimuth from the first, which is at no distance; north is along."""
    placed = []
    for height, far, azimuth in points:
        way = math.radians(azimuth)
        placed.append(planes.Point(far * Fraction(math.cos(way)), -far * Fraction(math.sin(way)), height))
    return planes.through(placed)


def _corners(along: Fraction, across: Fraction, start: Fraction, *places: list[Fraction]) -> list[Fraction]:
    plane = planes.Plane(along / 100, across / 100)
    return [start + planes.rise_to(plane, *place) for place in places]


def _bank(crown: Fraction, bank: Fraction, turns: list[Fraction], line: list[Fraction], *places: Fraction) -> list[Any]:
    """Inside, centre and outside at each place; `line` is a place, its elevation, the grade, the width of a lane."""
    at, elevation, grade, lane = line
    found: list[Any] = []
    for place in places:
        inner, outer = profile.banked(place, crown / 100, bank / 100, (turns[0], turns[1], turns[2]))
        centre = elevation + grade / 100 * (place - at)
        found += [centre + inner * lane, centre, centre + outer * lane]
    return found


CHECKS: dict[str, Callable[..., Any]] = {
    "plane of legs": _of_legs,
    "steepest of legs": lambda *inputs: _of_legs(*inputs)[0],
    "direction of legs": lambda *inputs: _of_legs(*inputs)[1],
    "fall toward": lambda azimuth, fall, other, other_fall, *toward: [
        -100 * planes.slope_at(_plane(azimuth, fall, other, other_fall), azimuth - at) for at in toward
    ],
    "slope of a leg": lambda along, across, left: 100 * planes.slope_at(planes.Plane(along / 100, across / 100), left),
    "resultant": lambda *pairs: [100 * planes.steepest(_square(pair))[0] for pair in pairs],
    "plane of points": lambda *points: 1 / planes.steepest(_of_points(*points))[0],
    "direction of points": lambda *points: -planes.steepest(_of_points(*points))[1] % 360,
    "steepest and direction": lambda along, across: [
        100 * planes.steepest(planes.Plane(along / 100, across / 100))[0],
        planes.steepest(planes.Plane(along / 100, across / 100))[1],
    ],
    "corners": _corners,
    "twist": lambda *corners: [abs(planes.twist(corners)), abs(planes.twist(corners)) / 4],
    "edge of a crown": lambda lane, percent: -profile.across(lane, -percent / 100, -percent / 100),
    "banked road": _bank,
    "direction of resultant": lambda *pairs: [planes.steepest(_square(pair))[1] for pair in pairs],
}
