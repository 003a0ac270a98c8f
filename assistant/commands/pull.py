"""`rodside pull`: books from the office, or what stands unproven in them."""

from __future__ import annotations

import argparse
import re
from pathlib import Path
from types import ModuleType
from typing import Any

from assistant.book.errors import BookError
from assistant.book.store import Book
from assistant.commands.opening import office
from assistant.environment import Environment, ExitStatus

LONGEST = 120
"""Bytes of a name in a path; the file systems of today take 255."""


def run(options: argparse.Namespace, world: Environment) -> ExitStatus:
    """Bring every book that may be seen into a folder, one folder a crew, or tell the unproven readings.

    What cannot be read is named and passed over. What the office answers is not trusted with paths or the terminal.
    """
    store = office()
    status = ExitStatus.OK
    with store.connect(options.office) as connection:
        if options.unproven:
            for reading in store.unproven(connection, options.days):
                told = (reading.crew, reading.name, reading.sequence, reading.time, reading.reply)
                world.say("\t".join(map(_shown, told)))
        else:
            for there in store.books(connection):
                try:
                    path = _path(options.folder, there)
                    world.say(f"{path}: {_brought(path, there, store, connection, world)} entries brought.")
                except store.Unreachable:
                    raise
                except (BookError, OSError) as trouble:
                    status = ExitStatus.BOOK
                    world.warn(f"Left out: {_shown(there.name)} of {_shown(there.crew)}. {trouble}")
        for book in store.left_out(connection):
            status = ExitStatus.BOOK
            world.warn(f"Left out: {_shown(book.name)} of {_shown(book.crew)}, of before. {_shown(book.why)}.")
    return status


def _path(folder: Path, there: Any) -> Path:
    """Where a book belongs. Raises `BookError` where its hash is none."""
    if not re.fullmatch("[0-9a-f]{64}", str(there.book)):
        raise BookError("It has no hash to be known by.")
    return folder / _safe(there.crew) / f"{_safe(there.name)}-{there.book[:8]}.rodside"


def _brought(path: Path, there: Any, store: ModuleType, connection: Any, world: Environment) -> int:
    if not path.exists():  # nothing is made of what does not prove
        rows = list(store.rows_of(connection, there.crew, there.book))
        if not rows:
            raise BookError("It has no entries.")
        path.parent.mkdir(parents=True, exist_ok=True)
        with Book.open(path, world.clock) as book:
            return book.restore(rows)
    with Book.open(path, world.clock) as book:
        first = next(book.rows(), None)
        if first is not None and first.hash != there.book:
            raise BookError(f"{path} holds another book; move it away.")
        last = book.last(1)
        return book.follow(store.rows_of(connection, there.crew, there.book, last[0] if last else None))


def _safe(name: object) -> str:
    """A name that leads to no other folder."""
    whole = re.sub(r"[^\w .-]", "_", str(name)).encode("utf-8", "replace")
    return whole[:LONGEST].decode("utf-8", "ignore").strip(". ") or "_"


def _shown(text: object) -> str:
    """Text on one line, with nothing in it that moves the cursor."""
    whole = str(text)[:500]
    return "".join(letter if letter.isprintable() else "\ufffd" for letter in whole)
