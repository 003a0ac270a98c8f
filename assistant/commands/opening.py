"""Opening a book by its path, or one that is not kept."""

from __future__ import annotations

from pathlib import Path

from assistant.book.store import Book
from assistant.environment import Environment


def open_book(path: Path | None, world: Environment) -> Book:
    """The book at `path`, made if it is not there; without a path, a book in memory. Raises `BookError`."""
    return Book.scratch(world.clock) if path is None else Book.open(path, world.clock)
