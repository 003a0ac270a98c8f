"""What the page shows: an answer under one word, one figure and one shape, and the lines of the book."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import asdict
from typing import Any

from assistant.book.entries import Row
from assistant.job.records import ReadingRecord
from assistant.job.state import Job
from assistant.page.talk import Answer
from assistant.report.ledger import Line
from assistant.wording.phrase import computed, length

LINES = 200
"""Lines of the book that a page is given: the last ones."""


def answer(job: Job, given: Answer) -> dict[str, Any]:
    """An answer for the page: `word`, `figure` (or none) and `shape` head what is shown in full."""
    word, figure, shape = _head(job, given)
    return {
        "heard": given.heard,
        "shown": given.reply.shown,
        "spoken": given.reply.spoken,
        "asks": given.reply.asks,
        "word": word,
        "figure": figure,
        "shape": shape,
    }


def _head(job: Job, given: Answer) -> tuple[str, str, str]:
    kinds = [row.kind for row in given.rows]
    if given.reply.asks:
        return "question", "", "ask"
    if "reading" in kinds:
        return _reading(job, given.rows[kinds.index("reading")])
    if "scratch" in kinds:
        return "scratched", "", "scratch"
    if kinds:
        return ("set aside", "", "scratch") if kinds == ["dismissed"] else ("written", "", "written")
    if given.missed or given.writing:
        return "not written", "", "miss"
    return "answer", "", "tell"


def _reading(job: Job, row: Row) -> tuple[str, str, str]:
    record = ReadingRecord(row, None)
    if record.grade is None:
        return "reading", length(record.reading).shown, "written"
    if record.grade.kind == "on grade":
        return "on grade", "", "grade"
    return record.grade.kind, length(computed(job, record.grade.amount)).shown, record.grade.kind


def line(given: Line) -> dict[str, Any]:
    """A line of the book for the page."""
    return asdict(given)


def changed(before: dict[int, Line], now: Iterable[Line]) -> list[Line]:
    """The lines that are new or other than before, by their sequence."""
    return [one for one in now if before.get(one.sequence) != one]
