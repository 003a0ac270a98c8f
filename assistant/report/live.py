"""A book in a terminal: the latest entries and a small profile, as they stand now."""

from __future__ import annotations

from collections.abc import Sequence

from rich import box
from rich.console import Group, RenderableType
from rich.table import Table
from rich.text import Text

from assistant.book.entries import Row
from assistant.environment import visible
from assistant.report.ledger import Line, lines
from assistant.report.sketch import KEY, sketch
from assistant.report.survey import runs

SKETCH_LINES = 7
LEAST_HEIGHT = 18
"""Lines of a terminal under which there is room for the table only."""
_FRAME = 5
"""Lines that the table's head, the title and the key take."""


def view(rows: Sequence[Row], width: int, height: int) -> RenderableType:
    """What fits into a terminal of this size: the end of the table, and the profile of the last run below it."""
    shown = lines(rows)
    drawn = _profile(rows, width - 2) if height >= LEAST_HEIGHT else []
    room = max(3, height - _FRAME - len(drawn))
    table = Table(box=box.SIMPLE_HEAD, pad_edge=False, expand=True)
    number = len(str(shown[-1].sequence)) if shown else 1
    table.add_column("#", justify="right", no_wrap=True, min_width=number)
    table.add_column("time (UTC)", no_wrap=True)
    table.add_column("entry", no_wrap=True)
    table.add_column("what", no_wrap=True, overflow="ellipsis", ratio=1)
    for line in shown[-room:]:
        style = "strike" if not line.stands else "bold" if line is shown[-1] else None
        table.add_row(*line.cells()[:3], visible(_what(line)), style=style)
    return Group(table, *(Text(visible(text), no_wrap=True, overflow="crop") for text in drawn))


def _what(line: Line) -> str:
    read = " at ".join(part for part in (line.reading, line.station) if part)
    return ": ".join(part for part in (read, line.result) if part) or line.note


def _profile(rows: Sequence[Row], width: int) -> list[str]:
    scratched = {int(row.payload["sequence"]) for row in rows if row.kind == "scratch"}
    standing = [row for row in rows if row.sequence not in scratched and row.kind != "scratch"]
    proven = {line.sequence: line.proven for line in lines(rows)}
    surveyed = runs(standing, lambda entry: proven[entry])
    drawn = sketch(surveyed[-1], width, SKETCH_LINES) if surveyed else []
    return [*drawn, KEY] if drawn else []
