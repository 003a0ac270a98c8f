"""`rodside verify`: whether a book still holds what was written."""

from __future__ import annotations

import argparse
from collections.abc import Iterator
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
    rows: list[Row] = []
    found: list[str] = []
    try:
        with Book.open(options.book, world.clock, read_only=True) as book:
            caution = book.caution()
            if caution is not None:
                found.append(caution.rstrip("."))
            rows.extend(_kept(book, found))
    except BookError as trouble:
        world.say(f"{options.book}: no entry can be read: {trouble}")
        return trouble.status
    found += _findings(
        options.book, rows, chain_only=len(found) > (caution is not None), without_audio=options.without_audio
    )
    if options.code is not None:
        found += _against(options.code, rows)
    for finding in found:
        world.say(f"{options.book}: {finding}.")
    if found:
        return ExitStatus.NOT_UNDERSTOOD
    _tell(options.book, rows, world)
    return ExitStatus.OK


def _kept(book: Book, found: list[str]) -> Iterator[Row]:
    """The rows up to one that cannot be read."""
    last = 0
    try:
        for row in book.rows():
            last = row.sequence
            yield row
    except BookError as trouble:
        found.append(f"what follows entry {last} cannot be trusted: {str(trouble).rstrip('.')}")


def _findings(path: Path, rows: list[Row], *, chain_only: bool, without_audio: bool) -> Iterator[str]:
    chain = list(findings(rows))
    yield from chain
    if not without_audio:
        yield from Sounds(path).findings(rows)
    if chain or chain_only:
        return
    from assistant.report import arithmetic

    yield from arithmetic.findings(rows)
    if not Path(f"{path}-wal").exists():
        yield from layout.findings(path, rows)


def _against(written: str, rows: list[Row]) -> Iterator[str]:
    try:
        if not begins_so(rows, written):
            yield f"it does not begin as the code {written} says"
    except ValueError as trouble:
        yield str(trouble)


def _tell(path: Path, rows: list[Row], world: Environment) -> None:
    if not rows:
        world.say(f"{path} has no entry yet.")
        return
    last, kept = rows[-1], sum(row.audio is not None for row in rows)
    sounds = f", {kept} with their sound" if kept else ""
    world.say(f"{path}: {len(rows)} entries, unchanged{sounds}. The last has the hash {last.hash}.")
    short = code(last.sequence, last.hash)
    world.say(f"Its code, for a stake or a telephone: {short} ({spoken(short)}).")
    remark = layout.remark(path)
    if remark is not None:
        world.say(f"{path} was {remark}.")
