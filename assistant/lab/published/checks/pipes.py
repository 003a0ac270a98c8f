"""Pipes, their trenches, and the water in them. Metres are turned into feet where the engine counts in feet."""

from __future__ import annotations

import math
from collections.abc import Callable
from fractions import Fraction
from typing import Any

from assistant.grade import flow, line, pipes
from assistant.grade.units import FOOT_IN_METRES

UNIT_IN_FEET = {"US": Fraction(1), "metric": 1 / FOOT_IN_METRES}


def _invert(start: Fraction, invert: Fraction, percent: Fraction, at: Fraction) -> Fraction:
    return line.elevation_at(at, start_station=start, start_elevation=invert, slope=percent / 100)


def _tops(
    start: Fraction, invert: Fraction, percent: Fraction, outside: Fraction, wall: Fraction, *stations: Fraction
) -> list[Fraction]:
    inverts = [_invert(start, invert, percent, at) for at in stations]
    return [*(pipes.top_of_pipe(each, outside, wall) for each in inverts), inverts[-1]]


def _grade_line(near: Fraction, near_invert: Fraction, far: Fraction, far_invert: Fraction, at: Fraction) -> list[Any]:
    percent = 100 * (far_invert - near_invert) / (far - near)
    return [-percent, _invert(near, near_invert, percent, at)]


def _flow(diameter: Fraction, percent: Fraction, n: Fraction, depth: Fraction, unit: str) -> tuple[float, float]:
    foot = UNIT_IN_FEET[unit]
    running = flow.part_full(diameter * foot, percent / 100, float(depth), n)
    return running.velocity / float(foot), running.discharge / float(foot) ** 3


def _diameter(discharge: Fraction, slope: Fraction, n: Fraction, unit: str) -> float:
    foot = float(UNIT_IN_FEET[unit])
    return flow.diameter_for(float(discharge) * foot**3, slope, n) / foot


def _greatest(of: str) -> list[float]:
    """The largest share of the full pipe's velocity or discharge, and its depth to 1/1000 of the diameter."""
    best = max((step / 1000 for step in range(1, 1001)), key=lambda depth: getattr(flow.share_of_full(depth), of))
    return [getattr(flow.share_of_full(best), of), best]


CHECKS: dict[str, Callable[..., Any]] = {
    "tops of pipe": _tops,
    "depth below ground": lambda ground, invert, inches: ground - pipes.trench_bottom(invert, Fraction(0), inches / 12),
    "cuts at a stake": lambda *pairs: [hub - pipes.trench_bottom(invert) for hub, invert in pairs],
    "string over a trench": lambda invert, above, hub: [
        pipes.board_height(invert, above, Fraction(0)),
        pipes.board_height(invert, above, hub),
    ],
    "rails over pegs": lambda start, percent, apart, rod, *pegs: [
        pipes.board_height(_invert(Fraction(0), start, percent, apart * number), rod, peg)
        for number, peg in enumerate(pegs)
    ],
    "boning rods": lambda rod, *depths: [pipes.boning_rod(rod, depth) for depth in depths],
    "grade line": _grade_line,
    "velocity": lambda *given: _flow(*given)[0],
    "discharge": lambda *given: _flow(*given)[1],
    "velocities": lambda percents, n, *inches: [
        flow.full(size / 12, percent / 100, n).velocity for size, percent in zip(inches, percents, strict=True)
    ],
    "gallons": lambda *given: _flow(*given)[1] * flow.GALLONS_A_MINUTE,
    "diameter for": _diameter,
    "centre angle": lambda depth: math.degrees(flow.section(float(depth)).angle),
    "percents for a velocity": lambda velocity, n, *inches: [
        100 * flow.slope_for(size / 12, float(velocity), n) for size in inches
    ],
    "wetted area": lambda *depths: [flow.section(float(depth)).area for depth in depths],
    "wetted radius": lambda *depths: [flow.section(float(depth)).radius for depth in depths],
    "wetted perimeter": lambda *depths: [flow.section(float(depth)).perimeter for depth in depths],
    "share of full": lambda depth: [
        flow.share_of_full(float(depth)).velocity,
        flow.share_of_full(float(depth)).discharge,
    ],
    "flow share of full": lambda depth: flow.share_of_full(float(depth)).discharge,
    "greatest velocity": lambda: _greatest("velocity"),
    "greatest discharge": lambda: _greatest("discharge"),
    "gallons a minute": lambda: flow.GALLONS_A_MINUTE,
}
