"""What was read along each line: ground, design, and how they differ; from the fold of the book."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Mapping
from copy import copy
from dataclasses import dataclass, field
from fractions import Fraction
from itertools import pairwise
from typing import Any

from assistant.book.entries import Row
from assistant.grade import sureness
from assistant.job import expect
from assistant.job.records import feet
from assistant.job.state import Job
from assistant.report.amounts import feet_of
from grammar.quantities import Length, Marking, Offset, Side, Station
from grammar.spoken import SHOWN_STEP, show_length

DESIGNS = ("line", "plane", "steepest plane", "plane point", "baseline")
"""Kinds of entries that give what is read against."""

SAMPLES = 240
"""Places at which a design is looked up to draw it."""


@dataclass(frozen=True)
class Point:
    """A reading that stands, at a place with a station. Feet; `offset` is positive to the left.

    `high` is ground less design: positive is cut. `doubt` is what that may be off either way.
    """

    entry: int
    station: Fraction
    offset: Fraction
    ground: Fraction
    high: Fraction | None
    doubt: Fraction
    proven: bool

    @property
    def place(self) -> tuple[Fraction, Fraction]:
        """Where: station and offset."""
        return self.station, self.offset

    @property
    def design(self) -> Fraction | None:
        """Height of the design here."""
        return None if self.high is None else self.ground - self.high


@dataclass
class Run:
    """Readings under one design. Heights are elevations, or feet over the start of the line or the baseline."""

    marking: Marking
    elevations: bool
    title: str
    job: Job
    points: list[Point] = field(default_factory=list)
    marks: list[tuple[Fraction, str]] = field(default_factory=list)
    """Stations at which something else was written, and its kind: a bend, a drop, a stake."""

    def tolerance_ft(self) -> Fraction:
        """Feet within which a place was on grade at the last reading."""
        return expect.tolerance_ft(self.job)

    def found(self) -> list[Point]:
        """The first reading at each place, in the order of the places."""
        return self._one_each(reversed(self.points))

    def left(self) -> list[Point]:
        """The last reading at each place: how it was left."""
        return self._one_each(self.points)

    def on_line(self, points: Iterable[Point]) -> list[Point]:
        """Those beside no line."""
        return [point for point in points if point.offset == 0]

    def design_at(self, station: Fraction, offset: Fraction = Fraction(0)) -> Fraction | None:
        """Height of the design, as it was at the last reading."""
        rod = expect.grade_rod(self.job, _place(station, offset))
        return None if rod is None else _height(self.job, rod)

    def design(self) -> list[tuple[Fraction, Fraction]]:
        """The design along the line, from the first place to the last; on both sides of each mark."""
        stations = [point.station for point in self.on_line(self.points)]
        if len(set(stations)) < 2:
            return []
        first, last = min(stations), max(stations)
        steps = {first + (last - first) * n / SAMPLES for n in range(SAMPLES + 1)}
        near = {at + aside for at, _ in self.marks for aside in (0, Fraction(1, 1000))}
        every = sorted(steps | {at for at in near if first <= at <= last})
        heights = [(station, self.design_at(station)) for station in every]
        return [(station, height) for station, height in heights if height is not None]

    def corners(self) -> list[tuple[Fraction, Fraction]]:
        """The design along the line where it starts, bends, steps down and ends; two of one station make a step."""
        stations = [point.station for point in self.on_line(self.points)]
        if len(set(stations)) < 2:
            return []
        first, last = min(stations), max(stations)
        changes = {feet(change.station.distance) for change in self.job.changes}
        corners = []
        for station in sorted({first, last} | {at for at in changes if first < at < last}):
            height = self.design_at(station)
            if height is None:
                return []
            down = expect.step_down(self.job, _place(station, Fraction(0)))
            corners += [(station, height), (station, height - down)] if down else [(station, height)]
        return corners

    @staticmethod
    def _one_each(points: Iterable[Point]) -> list[Point]:
        by_place = {point.place: point for point in points}
        return sorted(by_place.values(), key=lambda point: (float(point.station), float(point.offset)))


def runs(rows: Iterable[Row], proven: Callable[[int], bool]) -> list[Run]:
    """One run for each design that was read against, from rows that stand, in order."""
    return list(each_run(rows, proven))


def each_run(rows: Iterable[Row], proven: Callable[[int], bool]) -> Iterator[Run]:
    """The same, each as soon as its last reading was met; of a long book no more is held than one of them."""
    job, run = Job(), None
    marked = 0
    marks: list[tuple[Fraction, str]] = []
    key: object = None
    designed = 0
    for row in rows:
        job.apply(row)
        job.let_go()
        payload = row.payload
        station = _station(payload)
        if row.kind in DESIGNS:
            designed = row.sequence
        if row.kind in ("line", "plane", "branch"):
            marks = []
        elif station is not None and row.kind not in ("reading", "place", "baseline", "question"):
            marks.append((station[0], row.kind))
        if row.kind != "reading" or station is None:
            continue
        elevations = payload.get("elevation_ft") is not None
        now = (job.line, job.plane, elevations, job.below)
        if run is None or key != now:
            if run is not None:
                run.marks = run.marks[:marked]
                yield run
            run, key = Run(job.marking or Marking.TENTHS, elevations, _title(job, designed), job), now
        run.job, run.marks, marked = copy(job), marks, len(marks)
        run.points.append(_point(job, row.sequence, payload, station, proven=proven(row.sequence)))
    if run is not None:
        run.marks = run.marks[:marked]
        yield run


def between(run: Run, points: list[Point]) -> tuple[Fraction, Fraction]:
    """Square feet of cut and of fill along the line, between readings joined by straight lines.

    Trapezoids, parted where the design bends or steps down and where the sign changes; exact. Times the width it is a
    volume. Source: average of the end areas per foot of width, as earthwork textbooks teach it (common practice).
    """
    cut = fill = Fraction(0)
    corners = run.corners()
    for one, other in pairwise(points):
        if one.high is None or other.high is None:
            continue
        for first, last, width in _straight(one, other, corners):
            for low, high, part in _pieces(first, last, width):
                area = (low + high) / 2 * part
                cut, fill = cut + max(area, Fraction(0)), fill + max(-area, Fraction(0))
    return cut, fill


def _straight(
    one: Point, other: Point, corners: list[tuple[Fraction, Fraction]]
) -> Iterator[tuple[Fraction, Fraction, Fraction]]:
    """Ground less design at both ends of each stretch between two readings on which the design is straight."""
    assert one.high is not None and other.high is not None
    at, high = one.station, one.high
    for station, height in corners:
        if station == one.station and one.design is not None and height < one.design:
            high = one.ground - height  # going out of a drop
        elif one.station < station < other.station:
            ground = one.ground + (other.ground - one.ground) * (station - one.station) / (other.station - one.station)
            if station > at:
                yield high, ground - height, station - at
            at, high = station, ground - height
    yield high, other.high, other.station - at


def _pieces(first: Fraction, last: Fraction, width: Fraction) -> list[tuple[Fraction, Fraction, Fraction]]:
    if first * last >= 0:
        return [(first, last, width)]
    before = width * first / (first - last)
    return [(first, Fraction(0), before), (Fraction(0), last, width - before)]


def _point(
    job: Job, entry: int, payload: Mapping[str, Any], station: tuple[Fraction, Fraction], *, proven: bool
) -> Point:
    reading = feet_of(payload["reading"])
    rod = payload.get("grade_rod_ft")
    causes = payload.get("give_or_take") or {"rod": SHOWN_STEP[job.marking or Marking.TENTHS] / 2}
    doubt = sureness.together({cause: Fraction(amount) for cause, amount in causes.items()})
    high = None if rod is None else Fraction(rod) - reading
    return Point(entry, *station, _height(job, reading), high, doubt, proven)


def _height(job: Job, rod: Fraction) -> Fraction:
    """Height of the foot of the rod: elevation, else over the start of the line or the level of the baseline."""
    instrument = job.height_of_instrument()
    if instrument is not None:
        return instrument - rod
    start = expect.start_rod(job, job.line) if job.line is not None else None
    if start is None and job.baseline is not None:
        start = feet_of({"amount": job.baseline.reading.amount, "unit": job.baseline.reading.marking.unit})
    return (start or Fraction(0)) - rod


def _station(payload: Mapping[str, Any]) -> tuple[Fraction, Fraction] | None:
    """Station and offset of a place along a line; a spot with a name of its own has none."""
    data = payload.get("station")
    if not isinstance(data, Mapping) or "distance" not in data:
        return None
    beside = data.get("offset")
    offset = Fraction(0) if beside is None else feet_of(beside["distance"])
    return feet_of(data["distance"]), -offset if beside and beside["side"] == Side.RIGHT.value else offset


def _place(station: Fraction, offset: Fraction) -> Station:
    fine = Fraction(1, 1000)
    along = Length(station, Marking.TENTHS, fine)
    if offset == 0:
        return Station(along)
    side = Side.LEFT if offset > 0 else Side.RIGHT
    return Station(along, Offset(Length(abs(offset), Marking.TENTHS, fine), side))


def _title(job: Job, designed: int) -> str:
    against = "Against the plane" if job.plane is not None else "Against the level of the baseline"
    title = "Along the line" if job.line is not None else against
    title = f"{title} of entry {designed}" if designed else title
    if job.below is None or job.below.amount == 0:
        return title
    return f"{title}, dug {show_length(job.below)} below grade"
