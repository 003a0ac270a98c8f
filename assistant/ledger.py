"""The book as a table for people: one line an entry, in the units of the job."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from fractions import Fraction
from typing import TextIO

from rich import box
from rich.console import Console
from rich.table import Table

from assistant.book.entries import Row
from assistant.conversation.phrase import computed, grade, length, station
from assistant.environment import visible
from assistant.grade.sureness import together
from assistant.job import Job
from assistant.records import ReadingRecord

WIDE = 500
"""Columns of a pipe: more than any entry needs."""

CHECKS = ("check", "benchmark check")
"""Entries that prove a set-up, or say that it has moved."""

READ = ("reading", "stake", "blue top", "catch")
"""Entries of a rod that was read and compared with grade."""

COLUMNS = ("#", "time (UTC)", "entry", "station", "reading", "grade rod", "result", "in words")


@dataclass(frozen=True)
class Line:
    """One entry as shown. `stands` is false once it was scratched."""

    sequence: int
    time: str
    kind: str
    station: str
    reading: str
    grade_rod: str
    result: str
    note: str
    stands: bool
    proven: bool

    def cells(self) -> tuple[str, ...]:
        """The texts of the columns, each one line; what was scratched or is unproven is marked in words."""
        kind = self.kind if self.proven else f"{self.kind} (unproven)"
        kind = kind if self.stands else f"{self.kind} (scratched)"
        shown = (self.station, self.reading, self.grade_rod, self.result, self.note)
        return tuple(visible(text) for text in (str(self.sequence), self.time, kind, *shown))


def lines(rows: Iterable[Row]) -> list[Line]:
    """Every entry but the places asked about, in order."""
    every = list(rows)
    scratched = {int(row.payload["sequence"]) for row in every if row.kind == "scratch"}
    doubtful = unproven(row for row in every if row.sequence not in scratched)
    job, shown = Job(), []
    for row in every:
        job.apply(row)
        if row.kind != "place":
            stands, proven = row.sequence not in scratched, row.sequence not in doubtful
            shown.append(_line(job, row, stands=stands, proven=proven))
    return shown


def unproven(rows: Iterable[Row]) -> set[int]:
    """Readings between the last proof of a set-up and a check that failed, and those after it."""
    waiting: list[int] = []
    doubtful: set[int] = set()
    moved = False
    for row in rows:
        if row.kind in ("baseline", "backsight") or (row.kind in CHECKS and row.payload["holds"]):
            waiting, moved = [], False
        elif row.kind in CHECKS:
            doubtful.update(waiting)
            moved = True
        elif row.kind == "reading":
            waiting.append(row.sequence)
            if moved:
                doubtful.add(row.sequence)
    return doubtful


def print_table(rows: Iterable[Row], stream: TextIO) -> None:
    """Print the table: fitted to a terminal, one whole line an entry on a pipe."""
    console = Console(file=stream, width=None if stream.isatty() else WIDE, highlight=False, markup=False, emoji=False)
    table = Table(box=box.SIMPLE if stream.isatty() else None, pad_edge=False)
    for name in COLUMNS:
        table.add_column(name, overflow="fold", justify="right" if name == "#" else "left")
    for line in lines(rows):
        table.add_row(*line.cells(), style=None if line.stands else "strike")
    console.print(table)


def _line(job: Job, row: Row, *, stands: bool, proven: bool) -> Line:
    at = read = rod = result = ""
    if row.kind in READ:
        record = ReadingRecord(row, None)
        read = length(record.reading).shown
        at = "" if record.station is None else station(record.station).shown
        if row.payload["grade_rod_ft"] is not None:
            rod = length(computed(job, Fraction(row.payload["grade_rod_ft"]))).shown
        if record.grade is not None:
            result = grade(job, record.grade, record.below).shown
            doubt = row.payload.get("give_or_take")
            if doubt:
                whole = together({cause: Fraction(amount) for cause, amount in doubt.items()})
                result = f"{result} ± {length(computed(job, whole)).shown}"
    note = {"reading": "", "opened": "cautions given"}.get(row.kind, row.reply)
    return Line(row.sequence, row.time[11:19], row.kind, at, read, rod, result, note, stands, proven)
