"""What the tests of the book share: a clock that stands still, entries, and children that may die."""

import os
import sys
from datetime import UTC, datetime
from pathlib import Path

from assistant.book.entries import Entry
from assistant.book.store import Book

ROOT = Path(__file__).parents[2]
PYTHON = sys.executable
CHILD = {**os.environ, "PYTHONPATH": str(ROOT), "PYTHONDONTWRITEBYTECODE": "1"}


def clock() -> datetime:
    return datetime(2026, 5, 4, 7, 30, tzinfo=UTC)


def write(book: Book, count: int, start: int = 0) -> None:
    for number in range(start, start + count):
        entry = Entry("reading", {"reading": f"{number}/12", "station": None})
        book.append([entry], heard=f"reading {number}", engine="typed", audio=None, reply="ok")


def count(path: Path, *, read_only: bool = True) -> int:
    with Book.open(path, clock, read_only=read_only) as book:
        return len(list(book.rows()))


def die_writing(path: Path, rows: int) -> None:
    """Write in a child that dies without closing the book."""
    child = os.fork()
    if child == 0:
        try:
            write(Book.open(path, clock), rows)
        finally:
            os.kill(os.getpid(), 9)
    os.waitpid(child, 0)
