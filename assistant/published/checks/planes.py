"""Planes of two legs. Legs are told by the azimuth that they fall toward; azimuths turn right, legs turn left."""

from __future__ import annotations

from collections.abc import Callable
from fractions import Fraction
from typing import Any

from assistant.grade import planes, slope


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


CHECKS: dict[str, Callable[..., Any]] = {
    "plane of legs": _of_legs,
    "steepest of legs": lambda *inputs: _of_legs(*inputs)[0],
    "direction of legs": lambda *inputs: _of_legs(*inputs)[1],
    "fall toward": lambda azimuth, fall, other, other_fall, *toward: [
        -100 * planes.slope_at(_plane(azimuth, fall, other, other_fall), azimuth - at) for at in toward
    ],
    "slope of a leg": lambda along, across, left: 100 * planes.slope_at(planes.Plane(along / 100, across / 100), left),
    "resultant": lambda *pairs: [100 * planes.steepest(_square(pair))[0] for pair in pairs],
    "direction of resultant": lambda *pairs: [planes.steepest(_square(pair))[1] for pair in pairs],
}
