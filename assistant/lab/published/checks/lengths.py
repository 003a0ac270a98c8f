"""Units of length, what a rounding loses, paces, diagonals, slabs, long sights."""

from __future__ import annotations

from collections.abc import Callable
from fractions import Fraction
from typing import Any

from assistant.grade import curvature, distance, sizes, slope, sureness, tolerances, units
from grammar.quantities import Length, Marking
from grammar.spoken import half_up, show_length


def _eighths_and_back() -> list[int]:
    """Hundredths of a foot that do not come back from eighths of an inch."""
    step, eighth = Fraction(1, 100), Fraction(1, 96)
    return [each for each in range(100) if half_up(half_up(each * step, eighth), step) != each * step]


CHECKS: dict[str, Callable[..., Any]] = {
    "inches in feet": lambda *inches: [units.convert(each, "inch", "foot") for each in inches],
    "feet in inches": lambda *feet: [units.convert(each, "foot", "inch") for each in feet],
    "mixed in feet": lambda *pairs: [feet + units.convert(inches, "inch", "foot") for feet, inches in pairs],
    "feet in eighths": lambda feet: show_length(Length(feet, Marking.INCHES, Fraction(1, 96))),
    "feet in millimetres": lambda *feet: [units.convert(each, "foot", "millimeter") for each in feet],
    "survey foot": lambda feet: units.convert(feet, "us_survey_foot", "foot") - feet,
    "eighths and back": _eighths_and_back,
    "slab": lambda *sides: [sizes.slab_cubic_yards(*side) for side in sides],
    "diagonal": lambda *sides: [sizes.diagonal(*side) for side in sides],
    "pace": distance.pace_of,
    "pace from steps": lambda length, steps: length / steps,
    "paced error": lambda length, percent, fall: (
        distance.paced(Fraction(1), length, percent / 100).give_or_take * fall / 100
    ),
    "curvature": lambda *feet: [curvature.curvature(each) for each in feet],
    "curvature, metres": lambda *metres: [curvature.curvature(each, curvature.EARTH_M) for each in metres],
    "refraction, metres": lambda *metres: [curvature.refraction(each, curvature.EARTH_M) for each in metres],
    "combined, metres": lambda *metres: [curvature.combined(each, curvature.EARTH_M) for each in metres],
    "share of refraction": lambda: curvature.refraction(Fraction(1)) / curvature.curvature(Fraction(1)),
    "sight for": lambda *errors: [curvature.sight_for(each) for each in errors],
    "tape not level": lambda length, low: [
        length - slope.run_of_slope_length(length, low),
        slope.run_of_slope_length(length, low),
    ],
    "out of line": lambda length, *aside: [distance.out_of_line(length, each) for each in aside],
    "longer by heat": distance.longer_by_heat,
    "tape tolerance": lambda *feet: [tolerances.tape(each) for each in feet],
    "precision": lambda: [distance.PACING_ERROR, sureness.TAPING_ERROR],
    "pacing": lambda: 100 * distance.PACING_ERROR,
    "slope doubt": lambda run, *bands: [100 * sureness.slope_doubt(each, run) for each in bands],
    "share each": lambda whole, count, how: sureness.share_each(whole, int(count), random=how == "random"),
    "half a step": lambda amount, unit: units.convert(amount, unit, "foot") / 2,
    "half up": half_up,
    "half ups": lambda *pairs: [half_up(amount, step) for amount, step in pairs],
    "metres in feet": lambda *metres: [units.convert(each, "meter", "foot") for each in metres],
    "curvature and refraction": lambda *feet: [distance.curvature_and_refraction(each) for each in feet],
    "sight balance": lambda back, fore: (
        distance.curvature_and_refraction(back) - distance.curvature_and_refraction(fore)
    ),
}
