"""A report of a long job in parts, so that no page is larger than a browser can show."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import replace
from typing import Any

from markupsafe import escape

from assistant.report.amounts import Amount
from assistant.report.contents import LISTS, ReadingLine, Report, joined
from assistant.report.earth import Cross
from assistant.report.levels import LevelNotes

MOST = 4_500_000
"""Bytes of a page, but for its head and its proof. Our own choice: more than months of a crew."""

CROSS = 1_000_000
"""Bytes of the part of a table across the line that stands in one piece."""

_TAGS = 160
"""Bytes of the tags of a line, and of its number and time."""


def parts(report: Report, runs: Iterable[dict[str, Any]], most: float | None = None) -> Iterator[Report]:
    """The pages of a drawn report, of at most about so many bytes, each once it is full."""
    most = MOST if most is None else most
    page: dict[str, list[Any]] = {name: [] for name in LISTS}
    room = most
    for name, piece, size in _pieces(report, runs, most):
        if size > room and room < most:
            yield _page(report, page)
            page = {name: [] for name in LISTS}
            room = most
        page[name].append(piece)
        room -= size
    yield _page(report, page)


def _page(report: Report, lists: dict[str, list[Any]]) -> Report:
    return replace(report, **lists | {"sections": joined(lists["sections"])})  # type: ignore[arg-type]


def _pieces(report: Report, runs: Iterable[dict[str, Any]], most: float) -> Iterator[tuple[str, Any, int]]:
    """What a page can hold, in the order of the page: the list it stands in, and about how many bytes it takes."""
    for run in runs:
        yield from (("runs", piece, size) for piece, size in _of_run(run))
    yield from (("readings", reading, _reading(reading)) for reading in report.readings)
    for notes in report.notes:
        yield from (("notes", piece, size) for piece, size in _of_notes(notes, most))
    for section in report.sections:
        yield "sections", section, sum(_TAGS + _bytes(reply) for _, reply in section.lines)
    for one in report.corrections:
        yield "corrections", one, 2 * _TAGS + _bytes(one.taken_said) + _bytes(one.successor_said)
    for exchange in report.exchanges:
        said = (exchange.asked, exchange.answered, exchange.outcome)
        yield "exchanges", exchange, _TAGS + sum(map(_bytes, said))
    for caution in report.cautions:
        yield "cautions", caution, _TAGS + _bytes(caution[2])


def _of_run(run: dict[str, Any]) -> Iterator[tuple[dict[str, Any], int]]:
    """A run, and further pieces where its table across the line is long."""
    drawn = sum(len(run[name]) for name in ("profile", "plan", "tolerance") if run[name])
    cross: Cross | None = run["cross"]
    tables = [None] if cross is None else [replace(cross, rows=rows) for rows in _in_pieces(cross)]
    for number, table in enumerate(tables):
        size = 0 if table is None else sum(map(_row, table.rows))
        yield run | {"cross": table, "first": number == 0, "last": number == len(tables) - 1}, 4000 + drawn + size
        drawn = 0


def _in_pieces(cross: Cross) -> Iterator[list[Any]]:
    rows: list[Any] = []
    size = 0
    for row in cross.rows:
        if size > CROSS:
            yield rows
            rows, size = [], 0
        rows.append(row)
        size += _row(row)
    if rows or not cross.rows:
        yield rows


def _row(row: tuple[str, list[tuple[str, Amount] | None]]) -> int:
    return _TAGS + sum(9 if cell is None else 20 + _amount(cell[1]) for cell in row[1])


def _of_notes(notes: LevelNotes, most: float) -> Iterator[tuple[LevelNotes, int]]:
    """The notes, in pieces where they fill more than a page. What a sight takes is that of its columns."""
    start, size = 0, 1000
    for number, sight in enumerate(notes.sights):
        columns = (sight.backsight, sight.instrument, sight.intermediate, sight.foresight, sight.elevation)
        digits = sum(x.numerator.bit_length() + x.denominator.bit_length() for x in columns if x is not None) // 3
        here = _TAGS + 90 * (sum(x is not None for x in columns) + 1) + 2 * digits + _bytes(sight.point)
        if size + here > most and number > start:
            yield replace(notes, rows=slice(start, number)), size
            start, size = number, 1000
        size += here
    yield replace(notes, rows=slice(start, len(notes.sights))), size


def _reading(reading: ReadingLine) -> int:
    amounts = (reading.reading, reading.grade_rod, reading.grade, reading.elevation)
    return _TAGS + _bytes(reading.line.station) + sum(_amount(amount) for amount in amounts if amount is not None)


def _amount(amount: Amount) -> int:
    digits = amount.exact.numerator.bit_length() + amount.exact.denominator.bit_length()
    return 65 + len(amount.of) + len(amount.shown) + digits // 3


def _bytes(text: str) -> int:
    return len(escape(text).encode())
