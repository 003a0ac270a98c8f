"""Slopes in their units, rise over run."""

from __future__ import annotations

from collections.abc import Callable
from fractions import Fraction
from typing import Any

from assistant.grade import slope

_ONE = Fraction(1)


def _converted(values: Any, unit: str, into: str) -> list[Any]:
    every = values if isinstance(values, list) else [values]
    return [slope.slope_amount(slope.rise_over_run(value, unit), into) for value in every]


CHECKS: dict[str, Callable[..., Any]] = {
    "slopes": _converted,
    "rise": lambda run, amount, unit: slope.rise(run, slope.rise_over_run(amount, unit)),
    "rises": lambda run, amounts, unit: [slope.rise(run, slope.rise_over_run(amount, unit)) for amount in amounts],
    "slopes from rises": lambda pairs, unit: [slope.slope_amount(rise / run, unit) for rise, run in pairs],
    "run for a rise": lambda rise, amount, unit: rise / slope.rise_over_run(amount, unit),
    "slope from rise": lambda rise, run, into: [slope.slope_amount(rise / run, unit) for unit in into],
    "slope from readings": lambda near, far, run, into: [slope.slope_amount((far - near) / run, unit) for unit in into],
    "over the slope length": lambda *percents: [p / slope.slope_length(_ONE, p / 100) for p in percents],
    "run from slope length": lambda percent: percent / slope.run_of_slope_length(_ONE, percent / 100),
    "longer than run": lambda run, *percents: [slope.slope_length(run, p / 100) - run for p in percents],
}
