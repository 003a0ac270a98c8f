"""The published values: what each says, where it was found, and how the engine answers it."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from fractions import Fraction
from pathlib import Path
from typing import Any

import yaml

from assistant.grade import distance, instrument, levels, line, planes, sizes, slope, units
from grammar.quantities import Length, Marking
from grammar.spoken import half_up, show_length

STATUSES = (
    "read",
    "quotes a standard that was not read",
    "inputs read, answer computed",
    "arithmetic",
    "from memory",
    "common practice, no source",
)
"""How a value was obtained, strongest first."""

F = Fraction


@dataclass(frozen=True)
class Published:
    """One row. `answers` are compared with `expected` after rounding half up, once, to `places` decimals."""

    id: str
    what: str
    check: str
    inputs: list[Any]
    expected: list[Any]
    places: int
    source: str
    status: str

    def answers(self) -> list[Any]:
        """What the engine says."""
        found = CHECKS[self.check](*self.inputs)
        every = list(found) if isinstance(found, (list, tuple)) else [found]
        return [self._rounded(answer) for answer in every]

    def wanted(self) -> list[Any]:
        """What was published, exactly as printed."""
        return [value if isinstance(value, str) and not _number(value) else F(str(value)) for value in self.expected]

    def _rounded(self, answer: Any) -> Any:
        return answer if isinstance(answer, str) else half_up(F(answer), F(1, 10**self.places))


def rows() -> list[Published]:
    """Every row of the data files."""
    found = []
    for path in sorted((Path(__file__).parent / "values").glob("*.yaml")):
        for data in yaml.safe_load(path.read_text("utf-8")):
            found.append(Published(**data))
    return found


def _number(text: str) -> bool:
    return text.lstrip("-").replace(".", "", 1).replace("/", "", 1).isdigit()


def _all(values: Any) -> list[Fraction]:
    return [F(str(v)) for v in (values if isinstance(values, list) else [values])]


def _grade(rod: Any, *readings: Any) -> list[Any]:
    found: list[Any] = []
    for reading in readings:
        result = levels.cut_or_fill(F(str(rod)), F(str(reading)), F(0))
        found += [result.kind, result.amount]
    return found


def _converted(values: Any, unit: str, into: str) -> list[Fraction]:
    found = []
    for value in _all(values):
        amount = slope.slope_amount(slope.rise_over_run(value, unit), into)
        assert amount is not None
        found.append(amount)
    return found


def _plane(azimuth: Any, fall: Any, other_azimuth: Any, other_fall: Any, unit: str = slope.PERCENT) -> planes.Plane:
    """Legs by the azimuth they fall toward; azimuths turn to the right, legs to the left."""
    falls = [-slope.rise_over_run(F(str(f)), unit) for f in (fall, other_fall)]
    return planes.of_legs(falls[0], F(str(azimuth)) - F(str(other_azimuth)), falls[1])


def _of_legs(azimuth: Any, fall: Any, other: Any, other_fall: Any, unit: str, into: str) -> list[Any]:
    fall_of, left = planes.steepest(_plane(azimuth, fall, other, other_fall, unit))
    return [slope.slope_amount(fall_of, into), (F(str(azimuth)) - left) % 360]


def _square(pair: list[Any]) -> planes.Plane:
    return planes.of_legs(-F(str(pair[0])) / 100, F(90), -F(str(pair[1])) / 100)


CHECKS: dict[str, Callable[..., Any]] = {
    "instrument and elevations": lambda bm, bs, *fs: [
        levels.height_of_instrument(F(str(bm)), F(str(bs))),
        *(levels.elevation(levels.height_of_instrument(F(str(bm)), F(str(bs))), F(str(f))) for f in fs),
    ],
    "elevation": lambda hi, fs: levels.elevation(F(str(hi)), F(str(fs))),
    "grade rod": lambda hi, *grades: [levels.grade_rod(F(str(hi)), F(str(g))) for g in grades],
    "grade rod below": lambda hi, grade, inches: levels.grade_rod(F(str(hi)), F(str(grade))) + F(str(inches)) / 12,
    "depth below ground": lambda ground, invert, inches: F(str(ground)) - F(str(invert)) + F(str(inches)) / 12,
    "cut or fill": _grade,
    "cut or fill from elevations": lambda hi, grade, *readings: _grade(
        levels.grade_rod(F(str(hi)), F(str(grade))), *readings
    ),
    "slopes": _converted,
    "rise": lambda run, amount, unit: slope.rise(F(str(run)), slope.rise_over_run(F(str(amount)), unit)),
    "slope from rise": lambda rise, run, into: [slope.slope_amount(F(str(rise)) / F(str(run)), unit) for unit in into],
    "slope from readings": lambda near, far, run, into: [
        slope.slope_amount((F(str(far)) - F(str(near))) / F(str(run)), unit) for unit in into
    ],
    "over the slope length": lambda *percents: [
        100 * F(str(p)) / 100 / slope.slope_length(F(1), F(str(p)) / 100) for p in percents
    ],
    "run from slope length": lambda percent: (
        100 * (F(str(percent)) / 100) / slope.run_of_slope_length(F(1), F(str(percent)) / 100)
    ),
    "longer than run": lambda run, *percents: [
        slope.slope_length(F(str(run)), F(str(p)) / 100) - F(str(run)) for p in percents
    ],
    "grade rods along a line": lambda start, percent, *stations: [
        line.grade_rod_at(F(str(s)), start_station=F(0), start_rod=F(str(start)), slope=F(str(percent)) / 100)
        for s in stations
    ],
    "elevations along a line": lambda start, elevation, percent, *stations: [
        line.elevation_at(
            F(str(s)),
            start_station=F(str(start)),
            start_elevation=F(str(elevation)),
            slope=F(str(percent)) / 100,
        )
        for s in stations
    ],
    "inches in feet": lambda *inches: [units.convert(F(str(i)), "inch", "foot") for i in inches],
    "feet in inches": lambda *feet: [units.convert(F(str(f)), "foot", "inch") for f in feet],
    "mixed in feet": lambda *pairs: [
        F(str(feet)) + units.convert(F(str(inches)), "inch", "foot") for feet, inches in pairs
    ],
    "feet in eighths": lambda feet: show_length(Length(F(str(feet)), Marking.INCHES, F(1, 96))),
    "feet in millimetres": lambda *feet: [units.convert(F(str(f)), "foot", "millimeter") for f in feet],
    "survey foot": lambda feet: units.convert(F(feet), "us_survey_foot", "foot") - F(feet),
    "eighths and back": lambda: [
        hundredth
        for hundredth in range(100)
        if half_up(half_up(F(hundredth, 100), F(1, 96)), F(1, 100)) != F(hundredth, 100)
    ],
    "plane of legs": _of_legs,
    "steepest of legs": lambda *inputs: _of_legs(*inputs)[0],
    "direction of legs": lambda *inputs: _of_legs(*inputs)[1],
    "fall toward": lambda azimuth, fall, other, other_fall, *toward: [
        -100 * planes.slope_at(_plane(azimuth, fall, other, other_fall), F(str(azimuth)) - F(str(t))) for t in toward
    ],
    "slope of a leg": lambda along, across, left: (
        100 * planes.slope_at(planes.Plane(F(str(along)) / 100, F(str(across)) / 100), F(left))
    ),
    "resultant": lambda *pairs: [100 * planes.steepest(_square(pair))[0] for pair in pairs],
    "direction of resultant": lambda *pairs: [planes.steepest(_square(pair))[1] for pair in pairs],
    "axis error": lambda *pairs: [instrument.axis_error(F(str(a)), F(str(b))) for a, b in pairs],
    "allowed": lambda accuracy, over, far: instrument.allowed(F(str(accuracy)), F(over), F(far)),
    "slab": lambda *sides: [sizes.slab_cubic_yards(*(F(str(s)) for s in side)) for side in sides],
    "diagonal": lambda *sides: [sizes.diagonal(F(str(a)), F(str(b))) for a, b in sides],
    "pace": lambda counts, course: [distance.pace_of(_all(counts), F(str(course)))],
    "pace from steps": lambda length, steps: F(str(length)) / steps,
    "paced error": lambda length, percent, fall: (
        distance.paced(F(1), F(str(length)), F(str(percent)) / 100).give_or_take * F(str(fall)) / 100
    ),
    "curvature and refraction": lambda *feet: [distance.curvature_and_refraction(F(str(f))) for f in feet],
    "sight balance": lambda back, fore: (
        distance.curvature_and_refraction(F(back)) - distance.curvature_and_refraction(F(fore))
    ),
}
