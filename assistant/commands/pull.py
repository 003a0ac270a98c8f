"""`rodside pull`: books from the office, or what stands unproven in them."""

from __future__ import annotations

import argparse
import re
from pathlib import Path
from types import ModuleType
from typing import Any

from assistant.book.store import Book
from assistant.commands.opening import office
from assistant.environment import Environment, ExitStatus


def run(options: argparse.Namespace, world: Environment) -> ExitStatus:
    """Bring every book that may be seen into a folder, one folder a crew, or tell the unproven readings."""
    store = office()
    with store.connect(options.office) as connection:
        if options.unproven:
            for reading in store.unproven(connection, options.days):
                told = (reading.crew, reading.name, str(reading.sequence), reading.time, reading.reply)
                world.say("\t".join(told))
            return ExitStatus.OK
        for there in store.books(connection):
            path = options.folder / _safe(there.crew) / f"{_safe(there.name)}-{there.book[:8]}.rodside"
            path.parent.mkdir(parents=True, exist_ok=True)
            world.say(f"{path}: {_brought(path, there.book, store, connection, world)} entries brought.")
    return ExitStatus.OK


def _brought(path: Path, name: str, store: ModuleType, connection: Any, world: Environment) -> int:
    with Book.open(path, world.clock) as book:
        last = book.last(1)
        return book.follow(store.rows_of(connection, name, last[0].sequence if last else 0))


def _safe(name: str) -> str:
    """A name that leads to no other folder."""
    return re.sub(r"[^\w .-]", "_", name).lstrip(".") or "_"
