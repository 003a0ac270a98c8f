"""`rodside verify`: whether a book still holds what was written."""

from __future__ import annotations

import argparse
from collections.abc import Iterator

from assistant.book.entries import Row
from assistant.book.store import Book
from assistant.book.verify import findings
from assistant.environment import Environment, ExitStatus


def run(options: argparse.Namespace, world: Environment) -> ExitStatus:
    """Walk the chain of entries, and name each that was changed or is missing."""
    last: Row | None = None

    def counted(rows: Iterator[Row]) -> Iterator[Row]:
        nonlocal last
        for row in rows:
            last = row
            yield row

    with Book.open(options.book, world.clock, read_only=True) as book:
        found = list(findings(counted(book.rows())))
    for finding in found:
        world.say(f"{options.book}: {finding}.")
    if found:
        return ExitStatus.NOT_UNDERSTOOD
    if last is None:
        world.say(f"{options.book} has no entry yet.")
    else:
        world.say(f"{options.book}: {last.sequence} entries, unchanged. The last has the hash {last.hash}.")
    return ExitStatus.OK
