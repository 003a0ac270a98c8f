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
from assistant.office.names import part_of_path, shown


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
                world.say("\t".join(map(shown, told)))
        else:
            for there in store.books(connection):
                try:
                    path = _path(options.folder, there)
                    world.say(f"{path}: {_brought(path, there, store, connection, world)} entries brought.")
                except store.Unreachable:
                    raise
                except (BookError, OSError) as trouble:
                    status = ExitStatus.BOOK
                    world.warn(f"Left out: {shown(there.name)} of {shown(there.crew)}. {shown(trouble)}")
        for book in store.left_out(connection):
            status = ExitStatus.BOOK
            world.warn(f"Left out: {shown(book.name)} of {shown(book.crew)}, of before. {shown(book.why)}.")
    return status


def _path(folder: Path, there: Any) -> Path:
    """Where a book belongs. Raises `BookError` where its hash is none."""
    if not re.fullmatch("[0-9a-f]{64}", str(there.book)):
        raise BookError("It has no hash to be known by.")
    return folder / part_of_path(there.crew) / f"{part_of_path(there.name)}-{there.book[:8]}.rodside"


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
