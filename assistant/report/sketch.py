"""A profile in characters: design, ground, and what is between them."""

from __future__ import annotations

from bisect import bisect_right
from fractions import Fraction

from assistant.report.survey import Point, Run

GROUND, UNPROVEN, DESIGN, CUT, FILL, EMPTY = "o", "?", "=", "/", ".", " "
KEY = f"{DESIGN} design   {GROUND} ground   {CUT} to cut   {FILL} to fill   {UNPROVEN} unproven"


def sketch(run: Run, width: int, height: int) -> list[str]:
    """Lines of text, the highest first, heights stretched to fill them; none for fewer than two places."""
    points = [point for point in run.on_line(run.left()) if point.high is not None]
    if len(points) < 2:
        return []
    first, last = points[0].station, points[-1].station
    stations = [first + (last - first) * column / (width - 1) for column in range(width)]
    columns = [_between(points, station) for station in stations]
    every = [level for column in columns for level in column] + [point.ground for point in points]
    low, high = min(every), max(every)
    scale = (height - 1) / (high - low) if high > low else Fraction(0)
    levels = [tuple(round((level - low) * scale) for level in column) for column in columns]
    grid = [[_filling(row, *level) for level in levels] for row in reversed(range(height))]
    for point in points:
        column = round((point.station - first) / (last - first) * (width - 1))
        row = height - 1 - round((point.ground - low) * scale)
        grid[row][column] = GROUND if point.proven else UNPROVEN
    return ["".join(row).rstrip() for row in grid]


def _between(points: list[Point], station: Fraction) -> tuple[Fraction, Fraction]:
    """Ground and design at a station, on the straight line between the readings beside it."""
    after = min(bisect_right(points, station, key=lambda point: point.station), len(points) - 1)
    one, other = points[after - 1], points[after]
    share = (station - one.station) / (other.station - one.station)
    designs = one.design, other.design
    assert designs[0] is not None and designs[1] is not None
    return one.ground + (other.ground - one.ground) * share, designs[0] + (designs[1] - designs[0]) * share


def _filling(row: int, ground: int, design: int) -> str:
    if row == design:
        return DESIGN
    if design < row <= ground:
        return CUT
    return FILL if ground <= row < design else EMPTY
