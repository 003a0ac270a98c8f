"""Opening a book by its path, or one that is not kept."""

from __future__ import annotations

from pathlib import Path

from assistant.book.store import Book
from assistant.environment import Environment


def open_book(path: Path | None, world: Environment) -> Book:
    """The book at `path`, made if it is not there; without a path, a book in memory. Raises `BookError`."""
    return Book.scratch(world.clock) if path is None else Book.open(path, world.clock)


def book_of_today(world: Environment) -> Path:
    """The book of the day, in the folder of books."""
    world.books.mkdir(parents=True, exist_ok=True)
    return world.books / f"{world.clock().astimezone():%Y-%m-%d}.rodside"
