"""Opening a book by its path, or one that is not kept; and files that are written whole."""

from __future__ import annotations

import os
from pathlib import Path

from assistant.book.errors import BookError
from assistant.book.store import Book
from assistant.environment import Environment


def open_book(path: Path | None, world: Environment) -> Book:
    """The book at `path`, made if it is not there; without a path, a book in memory. Raises `BookError`."""
    return Book.scratch(world.clock) if path is None else Book.open(path, world.clock)


def replace(output: Path, content: bytes) -> None:
    """Write a file whole or not at all. Raises `BookError`."""
    beside = output.with_name(f".{output.name}.{os.getpid()}")
    try:
        beside.write_bytes(content)
        beside.replace(output)
    except OSError as trouble:
        beside.unlink(missing_ok=True)
        raise BookError(f"{output} cannot be written: {trouble.strerror}.") from trouble
