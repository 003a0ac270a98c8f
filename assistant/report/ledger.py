"""The book as a table for people: one line an entry, in the units of the job."""

from __future__ import annotations

from collections.abc import Collection, Iterable, Iterator
from dataclasses import dataclass
from itertools import islice
from typing import TextIO

from rich import box
from rich.cells import cell_len
from rich.console import Console
from rich.table import Table

from assistant.book.entries import Row
from assistant.book.errors import UnknownKind
from assistant.book.store import Book
from assistant.environment import visible
from assistant.grade.sureness import together
from assistant.job.folding import ABOUT_QUESTIONS, CHANGES
from assistant.job.records import ReadingRecord
from assistant.job.state import Job
from assistant.wording.phrase import computed, grade, length, station

WIDE = 500
"""Columns of a pipe: more than any entry needs."""

CHECKS = ("check", "benchmark check")
"""Entries that prove a set-up, or say that it has moved."""

SET_UPS = ("baseline", "backsight")
"""Entries that begin a set-up."""

BEARING = ("rod", "scratch", *SET_UPS, *CHECKS)
"""Entries on which it depends how later ones are shown."""

KINDS = {*CHANGES, *ABOUT_QUESTIONS, "scratch"}

AT_A_TIME = 500
"""Lines that are laid out together."""

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
    return list(_lines(every, scratched, unproven(row for row in every if row.sequence not in scratched)))


def last_lines(book: Book, count: int) -> list[Line]:
    """The lines of the last `count` entries. Of those before, only what these depend on is read."""
    end, _ = book.head()
    start = max(0, end - count)
    return [line for line in lines([*book.rows_of_kinds(BEARING, start), *book.rows(start)]) if line.sequence > start]


def standing_before(book: Book, start: int, most: int) -> list[Row]:
    """Of the entries up to number `start`, those on which later lines depend; of set-ups and checks the last `most`."""
    rows = list(book.rows_of_kinds(BEARING, start))
    scratches = {int(row.payload["sequence"]): row for row in rows if row.kind == "scratch"}
    rods = [row for row in rows if row.kind == "rod"]
    proofs = [row for row in rows if row.kind in (*SET_UPS, *CHECKS) and row.sequence not in scratches]
    taken = [scratches[rod.sequence] for rod in rods if rod.sequence in scratches]
    return sorted([*rods, *taken, *proofs[-most:]])


def all_lines(book: Book) -> Iterator[Line]:
    """Every line, one after the other: a long book is not held in memory."""
    scratched = {int(row.payload["sequence"]) for row in book.rows_of_kinds(("scratch",), book.head()[0])}
    doubtful = unproven(row for row in book.rows() if row.sequence not in scratched)
    return _lines(book.rows(), scratched, doubtful)


def _lines(rows: Iterable[Row], scratched: Collection[int], doubtful: Collection[int]) -> Iterator[Line]:
    job, rods = Job(), set()
    for row in rows:
        if row.kind not in KINDS:
            raise UnknownKind(row.kind)
        payload = row.payload  # read of every row: what no entry holds is not shown
        if row.kind == "rod":
            rods.add(row.sequence)
        if row.kind == "rod" or (row.kind == "scratch" and int(payload["sequence"]) in rods):
            job.apply(row)  # lengths are shown as the rod is marked; nothing else of the job is
        if row.kind != "place":
            yield _line(job, row, stands=row.sequence not in scratched, proven=row.sequence not in doubtful)


def unproven(rows: Iterable[Row]) -> set[int]:
    """Readings between the last proof of a set-up and a check that failed, and those after it."""
    waiting: list[int] = []
    doubtful: set[int] = set()
    moved = False
    for row in rows:
        if row.kind in SET_UPS or (row.kind in CHECKS and row.payload["holds"]):
            waiting, moved = [], False
        elif row.kind in CHECKS:
            doubtful.update(waiting)
            moved = True
        elif row.kind == "reading":
            waiting.append(row.sequence)
            if moved:
                doubtful.add(row.sequence)
    return doubtful


def print_table(shown: Iterable[Line], stream: TextIO) -> None:
    """Print the table: fitted to a terminal, one whole line an entry on a pipe."""
    console = Console(file=stream, width=None if stream.isatty() else WIDE, highlight=False, markup=False, emoji=False)
    table = Table(box=box.SIMPLE if stream.isatty() else None, pad_edge=False)
    for name in COLUMNS:
        table.add_column(name, overflow="fold", justify="right" if name == "#" else "left")
    for line in shown:
        table.add_row(*line.cells(), style=None if line.stands else "strike")
    console.print(table)


def print_long(shown: Iterable[Line], stream: TextIO) -> None:
    """Print any number of lines as they come, the columns as wide as so many lines need."""
    head: tuple[tuple[str, ...], ...] = (COLUMNS,)
    left = iter(shown)
    while some := list(islice(left, AT_A_TIME)):
        cells = (*head, *(line.cells() for line in some))
        widths = [max(map(cell_len, column)) for column in zip(*cells, strict=True)]
        for row in cells:
            number, *rest = (cell + " " * (width - cell_len(cell)) for cell, width in zip(row, widths, strict=True))
            print(row[0].rjust(len(number)), *rest, sep="  ", file=stream)
        head = ()


def _line(job: Job, row: Row, *, stands: bool, proven: bool) -> Line:
    at = read = rod = result = ""
    if row.kind in READ:
        record = ReadingRecord(row, None)
        read = length(record.reading).shown
        at = "" if record.station is None else station(record.station).shown
        if record.grade_rod is not None:
            rod = length(computed(job, record.grade_rod)).shown
        if record.grade is not None:
            result = grade(job, record.grade, record.below).shown
            if record.give_or_take:
                whole = together(record.give_or_take)
                result = f"{result} ± {length(computed(job, whole)).shown}"
    note = {"reading": "", "opened": "cautions given"}.get(row.kind, row.reply)
    return Line(row.sequence, row.time[11:19], row.kind, at, read, rod, result, note, stands, proven)
