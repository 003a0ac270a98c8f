"""What codes, manuals and rules of safety say, as the data files hold it."""

from __future__ import annotations

import math
from collections.abc import Callable
from fractions import Fraction
from typing import Any

from assistant.grade import codes, flow, safety


def _amounts(*names: str) -> list[Fraction]:
    return [codes.figure(name).amount for name in names]


def _reach(table: str, velocity: Fraction, *inches: Fraction) -> str:
    slopes = [codes.slope_by_size(table, size).amount for size in inches]
    running = [flow.full(size / 12, slope).velocity for size, slope in zip(inches, slopes, strict=True)]
    return "yes" if min(running) >= velocity else "no"


CHECKS: dict[str, Callable[..., Any]] = {
    "limits": _amounts,
    "limits in percent": lambda *names: [100 * amount for amount in _amounts(*names)],
    "code slopes": lambda *names: [100 * codes.limit(name).slope for name in names],
    "least pipe slope": lambda *inches: [12 * codes.least_pipe_slope(size).slope for size in inches],
    "pipe limits in percent": lambda name, *inches: [100 * codes.slope_by_size(name, size).amount for size in inches],
    "pipe limits, inches per foot": lambda name, *inches: [
        12 * codes.slope_by_size(name, size).amount for size in inches
    ],
    "reach the velocity": _reach,
    "trench widths": lambda rule, *outside: [codes.trench_width(rule, size) for size in outside],
    "trench tops": lambda bottom, depth, *soils: [
        safety.trench_top(bottom, depth, codes.figure(f"side, {soil}").amount) for soil in soils
    ],
    "side degrees": lambda *names: [math.degrees(math.atan2(1, amount)) for amount in _amounts(*names)],
    "trench cautions": safety.trench_cautions,
    "osha hours": lambda *levels: [safety.osha_hours(float(level)) for level in levels],
    "niosh minutes": lambda *levels: [safety.niosh_minutes(float(level)) for level in levels],
}
