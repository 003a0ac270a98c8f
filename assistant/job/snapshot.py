"""The job of a long book as it was some entries ago, so that opening folds only what came since.

A snapshot is JSON in the person's cache that names the last row folded into it, and that row's hash: it is used only
with a book that has this row, and whose chain was proved, so that all rows before are the same too. It holds the job's
fields, with rows told by their numbers, and the numbers of the readings that stand. What was there before each entry,
to take it back, is not kept: a book is folded whole once something older than the snapshot is to be taken back.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import fields, is_dataclass
from enum import Enum
from fractions import Fraction
from typing import Any

from assistant.book.entries import Row
from assistant.book.proven import LONG
from assistant.book.store import Book
from assistant.job import records
from assistant.job.records import ReadingRecord
from assistant.job.state import Done, Job
from grammar import meanings, quantities

KEPT_BACK = 200
"""Entries at the end that are folded at each opening, so that the last ones can be taken back at once."""

BLOCK = 100
"""Readings that are fetched at a time."""

_NOTE = "job"
_ROW, _FRACTION, _TUPLE, _MAPPING, _OF = "row", "fraction", "tuple", "mapping", "of"

_KNOWN = {
    name: kind
    for module in (meanings, quantities, records)
    for name, kind in vars(module).items()
    if isinstance(kind, type) and (is_dataclass(kind) or issubclass(kind, Enum)) and kind is not ReadingRecord
}
"""All that a snapshot can be made of."""


def opened(book: Book) -> Job:
    """The job of a book, from a snapshot where there is one. Raises `BookError`, and `KeyError` as folding does."""
    last, _ = book.head()
    if book.notes is None or last < LONG:
        return Job.folded(book.rows())
    job, at, numbers = _resumed(book) or (Job(), 0, [])
    whole = job.reaches_back
    for row in book.rows(after=at, until=last - KEPT_BACK):
        job.apply(row)
    end = max(at, last - KEPT_BACK)
    if at == 0 or end - at > LONG or job.reaches_back != whole:
        _keep(book, job, end, [] if job.reaches_back else numbers)
    for row in book.rows(after=end):
        job.apply(row)
    return job


def _resumed(book: Book) -> tuple[Job, int, list[int]] | None:
    """The job as it was kept, the number of the last entry in it, and those of the readings that stood."""
    assert book.notes is not None
    kept: Any = book.notes.read(_NOTE)
    try:
        at, hash_, state, numbers = kept
        if [row.hash for row in book.rows_of([at])] != [hash_]:
            return None
        rows = {row.sequence: row for row in book.rows_of(state["rows"])}
        job = Job(**{name: _decode(value, rows) for name, value in state["fields"].items()})
    except (TypeError, ValueError, KeyError, AttributeError, AssertionError, ZeroDivisionError, RecursionError):
        return None
    job.last_reading = _chain(book, numbers)
    job.resumed(lambda: _done(book, at))
    return job, at, numbers


def _done(book: Book, until: int) -> list[Done]:
    return Job.folded(book.rows(until=until)).done


def _chain(book: Book, numbers: list[int]) -> ReadingRecord | None:
    """The readings of these numbers, of which only the last ones are fetched now."""
    if not numbers:
        return None
    rest, last = numbers[:-BLOCK], numbers[-BLOCK:]
    first, *later = book.rows_of(last)
    record = ReadingRecord(first, lambda: _chain(book, rest))
    for row in later:
        record = ReadingRecord(row, record)
    return record


def _keep(book: Book, job: Job, at: int, numbers: list[int]) -> None:
    """Keep a snapshot. `numbers` are those of the readings that stood in the one before."""
    assert book.notes is not None
    (row,) = book.rows_of([at])
    known = numbers[-1] if numbers else 0
    later: list[int] = []
    for record in job.readings():
        if record.row.sequence <= known:
            break
        later.append(record.row.sequence)
    rows: list[int] = []
    named = (field.name for field in fields(job) if field.name not in ("_undo", "_earlier", "last_reading"))
    state = {name: _encode(getattr(job, name), rows) for name in named}
    standing = [*numbers, *reversed(later)]
    book.notes.keep(_NOTE, [at, row.hash, {"fields": state, "rows": rows}, standing])


def _encode(value: Any, rows: list[int]) -> Any:
    """A value of a job as JSON; the numbers of the rows in it are added to `rows`."""
    match value:
        case Row():
            rows.append(value.sequence)
            return {_ROW: value.sequence}
        case Enum():
            return {_OF: type(value).__name__, "value": value.value}
        case None | bool() | int() | str():
            return value
        case Fraction():
            return {_FRACTION: str(value)}
        case tuple():
            return {_TUPLE: [_encode(item, rows) for item in value]}
        case Mapping():
            return {_MAPPING: [[_encode(name, rows), _encode(item, rows)] for name, item in value.items()]}
    kind = type(value).__name__
    if _KNOWN.get(kind) is not type(value) or not is_dataclass(value):
        raise TypeError(f"a snapshot cannot hold {value!r}")
    parts = {field.name: _encode(getattr(value, field.name), rows) for field in fields(value)}
    return {_OF: kind, "parts": parts}


def _decode(data: Any, rows: Mapping[int, Row]) -> Any:
    """The value that `_encode` made JSON of."""
    if not isinstance(data, dict):
        return data
    if _ROW in data:
        return rows[data[_ROW]]
    if _FRACTION in data:
        return Fraction(data[_FRACTION])
    if _TUPLE in data:
        return tuple(_decode(item, rows) for item in data[_TUPLE])
    if _MAPPING in data:
        return {_decode(name, rows): _decode(item, rows) for name, item in data[_MAPPING]}
    kind = _KNOWN[data[_OF]]
    if issubclass(kind, Enum):
        return kind(data["value"])
    return kind(**{name: _decode(part, rows) for name, part in data["parts"].items()})
