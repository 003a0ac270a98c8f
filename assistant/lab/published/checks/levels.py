"""One set-up: elevations, grade rods, cut and fill."""

from __future__ import annotations

from collections.abc import Callable
from fractions import Fraction
from typing import Any

from assistant.grade import levels, line


def _grade(rod: Fraction, *readings: Fraction) -> list[Any]:
    found: list[Any] = []
    for reading in readings:
        result = levels.cut_or_fill(rod, reading, Fraction(0))
        found += [result.kind, result.amount]
    return found


def _one_set_up(known: Fraction, backsight: Fraction, *foresights: Fraction) -> list[Fraction]:
    instrument = levels.height_of_instrument(known, backsight)
    return [instrument, *(levels.elevation(instrument, foresight) for foresight in foresights)]


CHECKS: dict[str, Callable[..., Any]] = {
    "instrument and elevations": _one_set_up,
    "elevation": levels.elevation,
    "grade rod": lambda hi, *grades: [levels.grade_rod(hi, grade) for grade in grades],
    "grade rod below": lambda hi, grade, inches: levels.grade_rod(hi, grade) + inches / 12,
    "cut or fill": _grade,
    "cut or fill from elevations": lambda hi, grade, *readings: _grade(levels.grade_rod(hi, grade), *readings),
    "grade rods along a line": lambda start, percent, *stations: [
        line.grade_rod_at(at, start_station=Fraction(0), start_rod=start, slope=percent / 100) for at in stations
    ],
    "elevations along a line": lambda start, elevation, percent, *stations: [
        line.elevation_at(at, start_station=start, start_elevation=elevation, slope=percent / 100) for at in stations
    ],
}
