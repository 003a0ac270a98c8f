"""`rodside import`: a plan into a book, or an exported book into a new one."""

from __future__ import annotations

import argparse
import os
import stat
from collections.abc import Iterator, Mapping
from contextlib import contextmanager
from dataclasses import dataclass
from itertools import chain
from pathlib import Path
from typing import Any, BinaryIO

from assistant.book.entries import Entry, Row
from assistant.book.errors import BadFile, BookError
from assistant.book.export import CSV_COLUMNS, from_csv, from_jsonl
from assistant.book.planned import Planned, planned
from assistant.book.store import Book
from assistant.conversation import setting_up
from assistant.environment import Environment, ExitStatus
from assistant.job.state import Job
from assistant.wording.phrase import phrase

ENGINE = "import"
"""What stands in the book in the place of the recogniser's name."""


@dataclass(frozen=True)
class _Next:
    """An entry that is not written yet, as the fold needs it."""

    sequence: int
    kind: str
    payload: Mapping[str, Any]
    time: str = ""
    heard: str | None = None


MOST_BYTES = 1_000_000_000
"""Of a file that is taken in, and of a line of it: a book of a million entries has less."""

MOST_LINE = 1_000_000


def run(options: argparse.Namespace, world: Environment) -> ExitStatus:
    """Take in a file, whole or not at all. A plan is read back and written only when it is confirmed."""
    path: Path = options.file
    try:
        with _opened(path) as stream:
            lines = _lines(stream)
            first = next(lines, "")
            every = chain([first], lines) if first else iter(())
            if _is_export(first):
                read = from_jsonl if first.startswith("{") else from_csv
                return _restored(list(read(every)), options.book, world)
            plan = planned(every)
    except OSError as trouble:
        raise BookError(f"{path} cannot be read: {trouble.strerror}; name another file.") from trouble
    except BadFile as trouble:
        raise BookError(f"{path}, {trouble}") from trouble
    return _planned(plan, options, world)


@contextmanager
def _opened(path: Path) -> Iterator[BinaryIO]:
    """A file that has an end. Raises `BookError` for anything else, without waiting for it."""
    with open(path, "rb", opener=lambda name, flags: os.open(name, flags | NO_WAITING)) as stream:
        status = os.fstat(stream.fileno())
        if not stat.S_ISREG(status.st_mode):
            raise BookError(f"{path} is not a file; save it as one first.")
        if status.st_size > MOST_BYTES:
            raise BookError(f"{path} is too large: {status.st_size // 1_000_000} MB. Nothing was taken in.")
        yield stream


NO_WAITING = getattr(os, "O_NONBLOCK", 0)
"""Opens a pipe into which nobody writes, which else is waited for."""


def _lines(stream: BinaryIO) -> Iterator[str]:
    """The lines, without the mark that spreadsheets put before UTF-8. Raises `BadFile`."""
    for number, line in enumerate(iter(lambda: stream.readline(MOST_LINE), b""), 1):
        if len(line) == MOST_LINE:
            raise BadFile(number, "", f"a line of less than {MOST_LINE} bytes", "more")
        try:
            yield line.decode("utf-8-sig" if number == 1 else "utf-8")
        except UnicodeDecodeError as trouble:
            raise BadFile(number, "", "UTF-8", f"byte {line[trouble.start]:#04x}") from trouble


def _is_export(first: str) -> bool:
    return first.startswith("{") or first.startswith(",".join(CSV_COLUMNS))


def _restored(rows: list[Row], path: Path, world: Environment) -> ExitStatus:
    book = Book.open(path, world.clock)
    try:
        count = book.restore(rows)
    except BaseException:
        book.discard()
        raise
    book.close()
    world.say(f"{path}: {count} entries, as they were written.")
    return ExitStatus.OK


def _planned(plan: list[Planned], options: argparse.Namespace, world: Environment) -> ExitStatus:
    with Book.open(options.book, world.clock) as book:
        told = _told(Job.folded(book.rows()), plan)
        for _, reply in told:
            world.say(reply)
        if not options.confirm:
            world.say(phrase("say confirm").shown.capitalize())
            if world.stdin.readline().strip().lower() != "confirm":
                world.say(phrase("not written").shown.capitalize())
                return ExitStatus.NOT_UNDERSTOOD
        book.append_told(told, heard=options.file.name, engine=ENGINE)
    return ExitStatus.OK


def _told(job: Job, plan: list[Planned]) -> list[tuple[Entry, str]]:
    """The entries of a plan, each with its reply, as if each was said and confirmed. Raises `BookError`."""
    if job.question is not None:
        raise BookError("A question is open in this book; answer it first. Nothing was taken in.")
    if job.marking is None:
        raise BookError(f"{phrase('rod first').shown} Nothing was taken in.")
    told: list[tuple[Entry, str]] = []
    for number, meaning in enumerate(plan, 1):
        refused = setting_up.refusal(job, meaning)
        if refused is not None:
            raise BookError(f"{setting_up.read_back(job, meaning).shown} {refused.shown} Nothing was taken in.")
        turn = setting_up.write(job, meaning)
        for entry in turn.entries:
            told.append((entry, turn.reply.shown))
            job.apply(_Next(number, entry.kind, entry.payload))
    return told
