"""`rodside verify`: whether a book still holds what was written."""

from __future__ import annotations

import argparse
from collections.abc import Iterable, Iterator
from itertools import chain
from pathlib import Path

from assistant.book.code import begins_so, code, normal, spoken
from assistant.book.entries import Row
from assistant.book.errors import BookError
from assistant.book.layout import Rebuilt, remark
from assistant.book.sounds import Sounds
from assistant.book.store import Book
from assistant.book.verify import Chain
from assistant.environment import Environment, ExitStatus

TOLD_EVERY = 50_000
"""Entries after which it is told how far the walk has come: a few seconds of work."""


def run(options: argparse.Namespace, world: Environment) -> ExitStatus:
    """Walk chain, file, sounds and sums, and name each entry that was changed or is missing."""
    path: Path = options.book
    try:
        with Rebuilt() as rebuilt:
            with Book.open(path, world.clock, read_only=True) as book:
                caution = book.caution()
                walk = _Walk(book, rebuilt, None if options.without_audio else Sounds(path), options.code)
                for count in walk.entries():
                    if count % TOLD_EVERY == 0:
                        world.warn(f"rodside: {count:,} entries were looked at; the walk goes on.")
            # Only once it is closed: a reader leaves a log beside the book as long as it looks.
            found = [*([] if caution is None else [caution.rstrip(".")]), *walk.findings(path)]
    except BookError as trouble:
        world.say(f"{path}: no entry can be read: {trouble}")
        return trouble.status
    for finding in found:
        world.say(f"{path}: {finding}.")
    if found:
        return ExitStatus.NOT_UNDERSTOOD
    _tell(path, walk.last, walk.with_sound, world)
    return ExitStatus.OK


class _Walk:
    """One walk over a book, up to a row that cannot be read: each row is shown to every check and let go of.

    The sums and the bytes are looked at as long as the chain is whole.
    """

    def __init__(self, book: Book, rebuilt: Rebuilt, sounds: Sounds | None, wanted: str | None) -> None:
        from assistant.report.arithmetic import Sums

        self._book, self._rebuilt, self._sounds, self._wanted = book, rebuilt, sounds, wanted
        self._chain, self._sums = Chain(), Sums(lambda last: book.rows(until=last))
        self._trouble: list[str] = []
        self._in_chain: list[str] = []
        self._in_sounds: list[str] = []
        self._in_sums: list[str] = []
        self._numbered: list[Row] = []
        self.last: Row | None = None
        self.with_sound = 0

    def entries(self) -> Iterator[int]:
        """Walk, and count the entries."""
        number = None if self._wanted is None else _number(self._wanted)
        for count, row in enumerate(self._rows(), 1):
            self.last, self.with_sound = row, self.with_sound + (row.audio is not None)
            self._in_chain += self._chain.findings(row)
            if self._sounds is not None:
                self._in_sounds += self._sounds.findings([row])
            if not self._in_chain:
                self._in_sums += self._sums.findings(row)
                self._rebuilt.add(row)
            if row.sequence == number:
                self._numbered.append(row)
            yield count

    def findings(self, path: Path) -> Iterator[str]:
        """What the walk found, the gravest first."""
        yield from chain(self._trouble, self._in_chain, self._in_sounds)
        if not self._trouble and not self._in_chain:
            yield from self._in_sums
            if not Path(f"{path}-wal").exists():
                yield from self._rebuilt.findings(path)
        if self._wanted is not None:
            yield from _against(self._wanted, self._numbered)

    def _rows(self) -> Iterator[Row]:
        try:
            yield from self._book.rows()
        except BookError as trouble:
            last = 0 if self.last is None else self.last.sequence
            self._trouble.append(f"what follows entry {last} cannot be trusted: {str(trouble).rstrip('.')}")


def _number(written: str) -> int | None:
    """The number of the entry that a code is of."""
    try:
        return int(normal(written).split()[0])
    except ValueError:
        return None


def _against(written: str, rows: Iterable[Row]) -> Iterator[str]:
    try:
        if not begins_so(rows, written):
            yield f"it does not begin as the code {written} says"
    except ValueError as trouble:
        yield str(trouble)


def _tell(path: Path, last: Row | None, with_sound: int, world: Environment) -> None:
    if last is None:
        world.say(f"{path} has no entry yet.")
        return
    sounds = f", {with_sound} with their sound" if with_sound else ""
    world.say(f"{path}: {last.sequence} entries, unchanged{sounds}. The last has the hash {last.hash}.")
    short = code(last.sequence, last.hash)
    world.say(f"Its code, for a stake or a telephone: {short} ({spoken(short)}).")
    written_by = remark(path)
    if written_by is not None:
        world.say(f"{path} was {written_by}.")
