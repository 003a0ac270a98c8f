"""What is cut and filled along a line, and across it."""

from __future__ import annotations

from dataclasses import dataclass
from fractions import Fraction

from assistant.grade import earthwork
from assistant.grade.earthwork import CUBIC_FEET_IN_A_YARD, Depth
from assistant.grade.units import FOOT_IN_METRES
from assistant.report.amounts import Amount, computed, figures
from assistant.report.survey import Point, Run
from grammar.quantities import Marking

MOST_CELLS = 20_000
EMPTY = 20
"""A table across the line has no more cells than that, or than so many for each place: of places that lie anyhow it
would be all but empty, and grow with their square. Our own choice."""


@dataclass(frozen=True)
class Earth:
    """What is cut and filled along a run, in square feet along the line, and in cubic yards a foot of width."""

    when: str
    cut: Amount
    fill: Amount
    cut_yards: Amount
    fill_yards: Amount


@dataclass(frozen=True)
class Cross:
    """Cut and fill by station (down) and offset (across), as left."""

    offsets: list[str]
    rows: list[tuple[str, list[tuple[str, Amount] | None]]]


def earth_of(when: str, cut: Fraction, fill: Fraction, of: str) -> Earth:
    """Areas along a line, in square feet, as a report shows them."""

    def square_feet(area: Fraction, what: str) -> Amount:
        return Amount(area, "sq ft", figures(area, 1), f"{of}.{what}")

    def yards(area: Fraction, what: str) -> Amount:
        volume = area / CUBIC_FEET_IN_A_YARD
        return Amount(volume, "cu yd", figures(volume, 2), f"{of}.{what} yards")

    return Earth(when, square_feet(cut, "cut"), square_feet(fill, "fill"), yards(cut, "cut"), yards(fill, "fill"))


@dataclass(frozen=True)
class Volume:
    """Cut and fill under all places of a run as left, in cubic yards or metres."""

    points: int
    cut: Amount
    fill: Amount


def volume_of(run: Run, of: str) -> Volume | None:
    """By triangles between the places; none where they lie in one line."""
    left = [point for point in run.left() if point.high is not None]
    if len({point.offset for point in left}) < 2:
        return None
    found = earthwork.of_points([Depth(point.station, point.offset, point.high or Fraction(0)) for point in left])
    if found is None:
        return None
    metric = run.marking is Marking.METRIC
    unit, size = ("cu m", FOOT_IN_METRES**3) if metric else ("cu yd", 1 / earthwork.CUBIC_FEET_IN_A_YARD)

    def amount(cubic_feet: Fraction, what: str) -> Amount:
        return Amount(cubic_feet * size, unit, f"{figures(cubic_feet * size, 1)} {unit}", f"{of}.{what}")

    return Volume(len(left), amount(found.cut, "cut volume"), amount(found.fill, "fill volume"))


def cross_of(run: Run) -> Cross | None:
    """The table of cut and fill by station and offset; none where only one line was read, or places lie anyhow."""
    left = [point for point in run.left() if point.high is not None]
    offsets = sorted({point.offset for point in left}, reverse=True)
    if len(offsets) < 2:
        return None
    rows: list[tuple[str, list[tuple[str, Amount] | None]]] = []
    stations = {point.station for point in left}
    if len(offsets) * len(stations) > max(MOST_CELLS, EMPTY * len(left)):
        return None
    by_station: dict[Fraction, dict[Fraction, Point]] = {}
    for point in left:
        by_station.setdefault(point.station, {})[point.offset] = point
    for station, here in sorted(by_station.items()):
        cells: list[tuple[str, Amount] | None] = []
        for offset in offsets:
            there = here.get(offset)
            if there is None or there.high is None:
                cells.append(None)
                continue
            word = "cut" if there.high > 0 else "fill" if there.high < 0 else "on grade"
            cells.append((word, computed(abs(there.high), run.marking, f"{there.entry}.cross")))
        rows.append((station_text(station, run.marking), cells))
    return Cross([offset_text(offset, run.marking) for offset in offsets], rows)


def station_text(station: Fraction, marking: Marking) -> str:
    """A station as places are written: 0+40, or 40 m."""
    if marking is Marking.METRIC:
        return computed(station, marking, "").shown.removesuffix(" m").removesuffix(".000") + " m"
    full, rest = divmod(station, 100)
    places = 0 if rest.denominator == 1 else 2
    return f"{full}+{figures(rest, places).zfill(2 + (places + 1 if places else 0))}"


def offset_text(offset: Fraction, marking: Marking) -> str:
    """ "10 ft left", "on the line"."""
    if offset == 0:
        return "on the line"
    return f"{computed(abs(offset), marking, '').shown} {'left' if offset > 0 else 'right'}"
