"""`rodside verify`: whether a book still holds what was written."""

from __future__ import annotations

import argparse
from collections.abc import Iterable, Iterator
from pathlib import Path

from assistant.book import layout
from assistant.book.code import begins_so, code, spoken
from assistant.book.entries import Row
from assistant.book.errors import BookError
from assistant.book.sounds import Sounds
from assistant.book.store import Book
from assistant.book.verify import findings
from assistant.environment import Environment, ExitStatus


def run(options: argparse.Namespace, world: Environment) -> ExitStatus:
    """Walk chain, file, sounds and sums, and name each entry that was changed or is missing."""
    try:
        with Book.open(options.book, world.clock, read_only=True) as book:
            caution = book.caution()
            seen = _Seen(book)
            # The trouble that ends a walk is told before what the walk found.
            chain = list(findings(seen.rows()))
            last, with_sound = seen.last, seen.with_sound
            sound = not seen.trouble and not chain
            found = [] if caution is None else [caution.rstrip(".")]
            found += [*seen.trouble, *chain]
            found += _findings(options.book, seen, sound=sound, without_audio=options.without_audio)
            if options.code is not None:
                found += _against(options.code, seen.rows())
    except BookError as trouble:
        world.say(f"{options.book}: no entry can be read: {trouble}")
        return trouble.status
    for finding in found:
        world.say(f"{options.book}: {finding}.")
    if found:
        return ExitStatus.NOT_UNDERSTOOD
    _tell(options.book, last, with_sound, world)
    return ExitStatus.OK


class _Seen:
    """The rows of a book up to one that cannot be read, walked as often as need be and never held in memory."""

    def __init__(self, book: Book) -> None:
        self._book = book
        self.trouble: list[str] = []
        """Why the walk ended early, where it did."""
        self.last: Row | None = None
        self.with_sound = 0

    def rows(self) -> Iterator[Row]:
        """Walk."""
        self.last, self.with_sound = None, 0
        try:
            for row in self._book.rows():
                self.last, self.with_sound = row, self.with_sound + (row.audio is not None)
                yield row
        except BookError as trouble:
            last = 0 if self.last is None else self.last.sequence
            self.trouble = [f"what follows entry {last} cannot be trusted: {str(trouble).rstrip('.')}"]


def _findings(path: Path, seen: _Seen, *, sound: bool, without_audio: bool) -> Iterator[str]:
    if not without_audio:
        yield from Sounds(path).findings(seen.rows())
    if not sound:
        return
    from assistant.report import arithmetic

    yield from arithmetic.findings(seen.rows())
    if not Path(f"{path}-wal").exists():
        yield from layout.findings(path, seen.rows())


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
    remark = layout.remark(path)
    if remark is not None:
        world.say(f"{path} was {remark}.")
