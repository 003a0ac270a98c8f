"""The pictures of a run: profile, plan, and how far each place is off."""

from __future__ import annotations

from collections.abc import Sequence
from fractions import Fraction
from typing import Any

from matplotlib.axes import Axes
from matplotlib.figure import Figure
from matplotlib.text import Text

from assistant.conversation import sloping
from assistant.grade.units import FOOT_IN_METRES
from assistant.job.records import feet
from assistant.report.amounts import computed, feet_of, in_unit
from assistant.report.drawing import (
    COLUMNS,
    CUT,
    CUT_HATCH,
    FILL,
    FILL_HATCH,
    INK,
    SOFT,
    label,
    legend,
    new,
    stations_along,
    thin_out,
)
from assistant.report.earth import offset_text, station_text
from assistant.report.survey import Point, Run
from assistant.report.verdicts import Verdict
from grammar.meanings import Bend, Drop
from grammar.quantities import Marking
from grammar.spoken import show_length

MOST_BARS = 40
"""Places in the picture of tolerance; of more, the farthest off."""

FINE_UNIT = {
    Marking.INCHES: ("inches", Fraction(12)),
    Marking.TENTHS: ("ft", Fraction(1)),
    Marking.METRIC: ("mm", 1000 * FOOT_IN_METRES),
}
"""The unit in which small differences are drawn, and how many of it are a foot."""

NOTHING = 1e-9
"""What two heights may differ by that are the same, as numbers to draw with."""

MOST_POINTS = 2000
MOST_PLACES = 600
"""Places of a profile and of a plan; of more, those that can be told apart on paper. The table has all of them."""

SQUARES = 24
"""Squares a side of a plan of which one place each is drawn, where there are so many."""

GRID = 25
"""Places a side at which a design is looked up for its contours."""


def profile(run: Run) -> Figure | None:
    """Ground and design along the line, cut and fill between them; none for fewer than two places."""
    found, left = _seen(run.on_line(run.found())), _seen(run.on_line(run.left()))
    if len(left) < 2:
        return None
    figure, axes = new(3.3)
    unit = run.marking.unit
    design = run.design()
    if design:
        axes.plot(_along(run, [at for at, _ in design]), _along(run, [h for _, h in design]), color=INK, lw=2.2,
                  label=_design_name(run), zorder=4)  # fmt: skip
        for name, above, dashes in _over_the_dig(run):
            axes.plot(_along(run, [at for at, _ in design]), _along(run, [h + above for _, h in design]), color=INK,
                      lw=0.9, ls=(0, dashes), label=name, zorder=3)  # fmt: skip
        _hatch(axes, run, left, design)
    if found != left:
        _moved(axes, run, found, left)
        axes.plot(*_line(run, found), color=SOFT, lw=1, ls=(0, (4, 3)), marker="o", ms=3, mfc="white",
                  label="ground as found", zorder=3)  # fmt: skip
    axes.plot(*_line(run, left), color=INK, lw=1, zorder=5, label="ground as left" if found != left else "ground")
    _readings(axes, run, left)
    axes.set_ylabel(f"elevation, {unit}" if run.elevations else f"height over the start, {unit}")
    axes.set_xlabel("station")
    stations_along(axes, run.marking)
    axes.margins(x=0.07, y=0.3)
    legend(axes)
    _marks(axes, run)
    label(axes, [(*_at(run, point), _word(run, point)) for point in left if point.high is not None])
    return figure


def plan(run: Run) -> Figure | None:
    """The places from above with their cut or fill, and contours of design and ground; none along a bare line."""
    left = run.left()
    if len({point.offset for point in left}) < 2:
        return None
    left = _apart(left)
    figure, axes = new(3.4)
    for point in left:
        x, y = _scaled(run, point.station), _scaled(run, point.offset)
        axes.plot(x, y, marker=_marker(point), mfc=_face(point), mec=INK, ms=6, zorder=5)
    axes.margins(0.1, 0.2)
    limits = axes.get_xlim(), axes.get_ylim()
    _contours(axes, run, left)
    axes.set(xlim=limits[0], ylim=limits[1])
    axes.axhline(0, color=INK, lw=0.8, ls=(0, (8, 3, 2, 3)), zorder=1)
    axes.set_xlabel("station")
    axes.set_ylabel(f"right  -  offset, {run.marking.unit}  -  left")
    stations_along(axes, run.marking)
    label(axes, [(_scaled(run, point.station), _scaled(run, point.offset), _word(run, point)) for point in left
                 if point.high is not None])  # fmt: skip
    return figure


def tolerance(run: Run, verdicts: Sequence[Verdict]) -> Figure | None:
    """How far each place is off the design, with what the reading may be off as a bar, beside the tolerance."""
    if not verdicts or run.job.tolerance is None:
        return None
    shown = sorted(sorted(verdicts, key=lambda v: -abs(v.off))[:MOST_BARS], key=lambda v: v.point.place)
    figure, axes = new(0.9 + 0.24 * len(shown))
    unit, per_foot = FINE_UNIT[run.marking]
    allowed = float(feet_of({"amount": run.job.tolerance.amount, "unit": run.job.tolerance.marking.unit}) * per_foot)
    axes.axvspan(-allowed, allowed, facecolor="#e8e8e8", edgecolor="none", zorder=0)
    axes.axvline(0, color=INK, lw=0.8)
    for row, verdict in enumerate(shown):
        off, doubt = float(verdict.off * per_foot), float(verdict.doubt * per_foot)
        axes.errorbar(off, row, xerr=doubt, fmt=_marker(verdict.point), mfc=_face(verdict.point), mec=INK,
                      ecolor=INK, capsize=3, ms=5, lw=1.4)  # fmt: skip
    axes.set_yticks(range(len(shown)), [f"{_where(run, v.point)}, {v.verdict}" for v in shown], fontsize=8)
    axes.invert_yaxis()
    axes.margins(x=0.1, y=0.9 / max(len(shown), 2))
    axes.set_xlabel(f"to fill  -  off the design, {unit}  -  to cut")
    axes.text(
        0, 1.02, "grey: within tolerance", transform=axes.get_xaxis_transform(), ha="center", fontsize=8, color=SOFT
    )
    return figure


def _seen(points: list[Point]) -> list[Point]:
    """Of very many points along a line, in each column the first, last, lowest and highest, proven or not."""
    if len(points) <= MOST_POINTS:
        return points
    first, width = points[0].station, points[-1].station - points[0].station
    columns: dict[tuple[int, bool], list[Point]] = {}
    for point in points:
        columns.setdefault((int((point.station - first) * COLUMNS / width), point.proven), []).append(point)
    kept = {
        point.entry
        for here in columns.values()
        for point in (here[0], here[-1], min(here, key=lambda p: p.ground), max(here, key=lambda p: p.ground))
    }
    return [point for point in points if point.entry in kept]


def _apart(points: list[Point]) -> list[Point]:
    """Of very many points, one in each square: the farthest off the design, proven or not."""
    if len(points) <= MOST_PLACES:
        return points
    low = [min(point.place[side] for point in points) for side in (0, 1)]
    size = [(max(point.place[side] for point in points) - low[side]) / SQUARES or Fraction(1) for side in (0, 1)]
    kept: dict[tuple[int, int, bool], Point] = {}
    for point in sorted(points, key=lambda point: abs(point.high or Fraction(0))):
        along, across = (int((point.place[side] - low[side]) / size[side]) for side in (0, 1))
        kept[along, across, point.proven] = point
    return sorted(kept.values(), key=lambda point: point.place)


def _hatch(axes: Axes, run: Run, left: list[Point], design: list[tuple[Fraction, Fraction]]) -> None:
    import numpy as np

    along = np.array(_along(run, [at for at, _ in design]))
    planned = np.array(_along(run, [height for _, height in design]))
    ground = np.interp(along, *_line(run, left))
    areas: tuple[tuple[Any, str, str, str], ...] = (
        (ground - planned > NOTHING, CUT_HATCH, CUT, "cut: still to dig"),
        (planned - ground > NOTHING, FILL_HATCH, FILL, "fill: too low"),
    )
    for where, hatch, hue, name in areas:
        if where.any():
            axes.fill_between(along, ground, planned, where=where, interpolate=True, hatch=hatch, facecolor="none",
                              edgecolor=hue, lw=0, zorder=2, label=name)  # fmt: skip


def _moved(axes: Axes, run: Run, found: list[Point], left: list[Point]) -> None:
    import numpy as np

    along = np.array(sorted({x for points in (found, left) for x in _line(run, points)[0]}))
    before, after = (np.interp(along, *_line(run, points)) for points in (found, left))
    axes.fill_between(along, before, after, facecolor="#ececec", edgecolor="none", zorder=1, label="moved since")


def _readings(axes: Axes, run: Run, points: list[Point]) -> None:
    groups: dict[tuple[str, str, str], list[Point]] = {}
    for point in points:
        groups.setdefault((_marker(point), _face(point), _kind(point)), []).append(point)
    for (marker, face, name), members in groups.items():
        x, y = zip(*(_at(run, point) for point in members), strict=True)
        size = 5 if len(points) < 200 else 2
        axes.plot(x, y, ls="", marker=marker, mfc=face, mec=INK, ms=size, zorder=6, label=name)


def _marks(axes: Axes, run: Run) -> None:
    """What else was written at a station, once for each place."""
    names: dict[Fraction, list[str]] = {}
    changes = [(feet(change.station.distance), _change(change)) for change in run.job.changes]
    others = [(station, kind) for station, kind in run.marks if kind not in ("bend", "drop")]
    for station, name in [*changes, *others]:
        names.setdefault(station, [])
        names[station] += [name] if name not in names[station] else []
    first, last = axes.get_xlim()
    shown = [(_scaled(run, station), ", ".join(kinds)) for station, kinds in sorted(names.items())]
    shown = shown[:: -(-len(shown) // COLUMNS) or 1]
    for x, _ in [(x, kinds) for x, kinds in shown if first <= x <= last]:
        axes.axvline(x, color=SOFT, lw=0.8, ls=":", zorder=1)
    top = axes.get_ylim()[1]
    label(axes, [(x, top, kinds) for x, kinds in shown if first <= x <= last])


def _contours(axes: Axes, run: Run, left: list[Point]) -> None:
    """Solid: the design; dashed: the ground. Each line tells its height."""
    import numpy as np

    stations = [point.station for point in left]
    offsets = [point.offset for point in left]
    if len(set(stations)) < 2:
        return
    labels: list[Text] = []
    along = [min(stations) + (max(stations) - min(stations)) * n / GRID for n in range(GRID + 1)]
    across = [min(offsets) + (max(offsets) - min(offsets)) * n / GRID for n in range(GRID + 1)]
    planned = [[run.design_at(station, offset) for station in along] for offset in across]
    if all(height is not None for row in planned for height in row):
        heights = np.array([_along(run, [h for h in row if h is not None]) for row in planned])
        if np.ptp(heights) > 0:
            drawn = axes.contour(
                _along(run, along),
                _along(run, across),
                heights,
                levels=5,
                colors=INK,
                linewidths=0.9,
                linestyles="solid",
            )
            labels += axes.clabel(drawn, fontsize=7, fmt="%.2f")
    if len(left) >= 4:
        grounds = axes.tricontour(_along(run, stations), _along(run, offsets), _along(run, [p.ground for p in left]),
                                levels=5, colors=SOFT, linewidths=0.8, linestyles="dashed")  # fmt: skip
        labels += axes.clabel(grounds, fontsize=7, fmt="%.2f")
    thin_out(axes, labels)


def _change(change: Bend | Drop) -> str:
    if isinstance(change, Drop):
        return f"drop {show_length(change.length)}"
    return f"bend, {sloping.run(change.slope, change.direction).shown}"


def _design_name(run: Run) -> str:
    below = run.job.below_grade
    if below is None:
        return "design: the invert" if run.job.pipe is not None else "design"
    return f"dig to {show_length(below.length)} below {'the invert' if run.job.pipe is not None else 'grade'}"


def _over_the_dig(run: Run) -> list[tuple[str, Fraction, tuple[int, ...]]]:
    """Lines beside that of the dig: what they are, feet above it, and how they are dashed."""
    below, pipe = run.job.below_grade, run.job.pipe
    deep = Fraction(0) if below is None else feet(below.length)
    lines: list[tuple[str, Fraction, tuple[int, ...]]] = []
    if below is not None:
        lines.append(("grade" if pipe is None else "invert", deep, (6, 2, 1, 2)))
    if pipe is not None:
        wall = Fraction(0) if pipe.wall is None else feet(pipe.wall)
        lines.append(("top of the pipe", deep + feet(pipe.inside) + wall, (1, 1)))
    return lines


def _kind(point: Point) -> str:
    if not point.proven:
        return "reading, unproven"
    return "reading" if point.offset == 0 or point.high is None else "reading beside the line"


def _marker(point: Point) -> str:
    return "o" if point.proven else "X"


def _face(point: Point) -> str:
    return "white" if point.proven else "#bbbbbb"


def _word(run: Run, point: Point) -> str:
    assert point.high is not None
    allowed = run.tolerance_ft()
    kind = "on grade" if abs(point.high) <= allowed else "cut" if point.high > 0 else "fill"
    amount = computed(abs(point.high), run.marking, "").shown
    text = kind if kind == "on grade" else f"{kind} {amount}"
    return text if point.proven else f"{text}, unproven"


def _where(run: Run, point: Point) -> str:
    place = station_text(point.station, run.marking)
    return place if point.offset == 0 else f"{place}, {offset_text(point.offset, run.marking)}"


def _line(run: Run, points: list[Point]) -> tuple[list[float], list[float]]:
    return _along(run, [point.station for point in points]), _along(run, [point.ground for point in points])


def _at(run: Run, point: Point) -> tuple[float, float]:
    return _scaled(run, point.station), _scaled(run, point.ground)


def _along(run: Run, feet: Sequence[Fraction]) -> list[float]:
    return [_scaled(run, one) for one in feet]


def _scaled(run: Run, feet: Fraction) -> float:
    return float(in_unit(feet, run.marking))
