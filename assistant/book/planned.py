"""Plans as CSV: what a job is to be set up with, said by a file instead of by a person.

RFC 4180, UTF-8, a header that says which of the plans it is:

* `number,elevation,unit`: known points, as benchmarks with a number.
* `station,elevation,unit`: a profile, as a line with bends; a station told twice is a drop.
* `station,elevation,slope_percent,unit`: a line by its slopes: the elevation of the first row, and each row the slope
  from there on, negative where it falls.

Numbers are whole, decimal or a fraction such as 15/4, and exact; a station may be written 1+50; a unit is ft or m.
"""

from __future__ import annotations

import csv
import re
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from fractions import Fraction
from itertools import pairwise

from assistant.book.errors import BadFile
from grammar.meanings import Benchmark, Bend, DesignLine, Drop
from grammar.quantities import Direction, Length, Marking, Slope, SlopeUnit, Station

Planned = Benchmark | DesignLine | Bend | Drop

POINTS = ("number", "elevation", "unit")
PROFILE = ("station", "elevation", "unit")
SLOPES = ("station", "elevation", "slope_percent", "unit")
HEADERS = (POINTS, PROFILE, SLOPES)

_NUMBER = re.compile(r"-?\d{1,12}(\.\d{1,12}|/[1-9]\d{0,11})?", re.ASCII)
_PLUS = re.compile(r"(\d{1,4})\+(\d\d(?:\.\d{1,12})?)", re.ASCII)
_UNITS = {"ft": Marking.TENTHS, "m": Marking.METRIC}
_FINE = Fraction(1, 1000)


@dataclass(frozen=True)
class _Cells:
    line: int
    cell: dict[str, str]

    def bad(self, column: str, expected: str) -> BadFile:
        return BadFile(self.line, f"column {column}", expected, self.cell[column])

    def number(self, column: str) -> Fraction:
        text = self.cell[column].strip()
        if not _NUMBER.fullmatch(text):
            raise self.bad(column, "a number such as 12.5 or 25/2")
        return Fraction(text)

    def length(self, column: str) -> Length:
        marking = _UNITS.get(self.cell["unit"].strip())
        if marking is None:
            raise self.bad("unit", "ft or m")
        return _length(self.number(column), marking)

    def station(self) -> Station:
        text = self.cell["station"].strip()
        plus = _PLUS.fullmatch(text)
        if plus is None:
            at = self.length("station")
        elif self.length_unit() is Marking.METRIC:
            raise self.bad("station", "a distance in metres, without a plus")
        else:
            at = _length(100 * Fraction(plus[1]) + Fraction(plus[2]), Marking.TENTHS)
        if at.amount < 0:
            raise self.bad("station", "a station from zero up")
        return Station(at)

    def length_unit(self) -> Marking | None:
        return _UNITS.get(self.cell["unit"].strip())


def planned(stream: Iterable[str]) -> list[Planned]:
    """What a file plans, in the order in which it is to be written. Raises `BadFile`; open with `newline=""`."""
    table = csv.reader(stream, strict=True)
    try:
        header = tuple(name.strip() for name in next(table, []))
        if header not in HEADERS:
            every = " or ".join(",".join(names) for names in HEADERS)
            raise BadFile(1, "", every, ",".join(header))
        rows = []
        for cells in table:
            if len(cells) != len(header):
                raise BadFile(table.line_num, "", f"{len(header)} columns", f"{len(cells)}: {','.join(cells)}")
            rows.append(_Cells(table.line_num, dict(zip(header, cells, strict=True))))
    except csv.Error as trouble:
        raise BadFile(table.line_num, "", "CSV as of RFC 4180", str(trouble)) from trouble
    if not rows:
        raise BadFile(2, "", "a row", "")
    return {POINTS: _points, PROFILE: _profile, SLOPES: _slopes}[header](rows)


def _points(rows: Sequence[_Cells]) -> list[Planned]:
    seen: set[int] = set()
    points: list[Planned] = []
    for row in rows:
        number = row.number("number")
        if number.denominator != 1 or not 0 < number <= 9999:
            raise row.bad("number", "a whole number from 1 to 9999")
        if int(number) in seen:
            raise row.bad("number", "each number once")
        seen.add(int(number))
        points.append(Benchmark(row.length("elevation"), int(number)))
    return points


def _profile(rows: Sequence[_Cells]) -> list[Planned]:
    if len(rows) < 2:
        raise BadFile(rows[-1].line + 1, "", "a second station", "")
    places = [(row.station(), row.length("elevation")) for row in rows]
    _check_order(rows, [station for station, _ in places], twice=True)
    plan: list[Planned] = []
    slope: Fraction | None = None
    for row, (here, there) in zip(rows[1:], pairwise(places), strict=True):
        run = there[0].distance.amount - here[0].distance.amount
        rise = there[1].amount - here[1].amount
        if run == 0:
            if rise >= 0 or not plan:
                raise row.bad("elevation", "a lower one where a station is told twice, after the first stretch")
            plan.append(Drop(_length(-rise, here[1].marking), here[0]))
            continue
        if not plan:
            plan.append(DesignLine(here[0], None, here[1], *_slope(rise / run)))
        elif rise / run != slope:
            plan.append(Bend(here[0], *_slope(rise / run)))
        slope = rise / run
    return plan


def _slopes(rows: Sequence[_Cells]) -> list[Planned]:
    stations = [row.station() for row in rows]
    _check_order(rows, stations, twice=False)
    plan: list[Planned] = []
    for row, station in zip(rows, stations, strict=True):
        slope = row.number("slope_percent") / 100
        if not plan:
            plan.append(DesignLine(station, None, row.length("elevation"), *_slope(slope)))
            continue
        if row.cell["elevation"].strip():
            raise row.bad("elevation", "none after the first row")
        plan.append(Bend(station, *_slope(slope)))
    return plan


def _check_order(rows: Sequence[_Cells], stations: Sequence[Station], *, twice: bool) -> None:
    for row, (here, there) in zip(rows[1:], pairwise(stations), strict=True):
        if here.distance.marking is not there.distance.marking:
            raise row.bad("unit", "the unit of the row before")
        run = there.distance.amount - here.distance.amount
        if run < 0 or (run == 0 and not twice):
            raise row.bad("station", "a station further on than the row before")


def _slope(slope: Fraction) -> tuple[Direction, Slope | None]:
    if slope == 0:
        return Direction.LEVEL, None
    direction = Direction.RISING if slope > 0 else Direction.FALLING
    return direction, Slope(abs(slope) * 100, SlopeUnit.PERCENT)


def _length(amount: Fraction, marking: Marking) -> Length:
    """Said as finely as it is written, at least to a whole, at most to a thousandth."""
    step = Fraction(1)
    while step > _FINE and (amount / step).denominator != 1:
        step /= 10
    return Length(amount, marking, step)
