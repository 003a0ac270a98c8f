"""`rodside import`: a plan into a book, or an exported book into a new one."""

from __future__ import annotations

import argparse
from collections.abc import Mapping
from dataclasses import dataclass
from io import StringIO
from pathlib import Path
from typing import Any

from assistant.book.entries import Entry
from assistant.book.errors import BadFile, BookError
from assistant.book.export import CSV_COLUMNS, from_csv, from_jsonl
from assistant.book.planned import Planned, planned
from assistant.book.store import Book
from assistant.conversation import setting_up
from assistant.conversation.phrase import phrase
from assistant.environment import Environment, ExitStatus
from assistant.job import Job

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


def run(options: argparse.Namespace, world: Environment) -> ExitStatus:
    """Take in a file, whole or not at all. A plan is read back and written only when it is confirmed."""
    path: Path = options.file
    try:
        with path.open(encoding="utf-8", newline="") as stream:
            text = stream.read()
        if _is_export(text):
            return _restored(text, options.book, world)
        plan = planned(StringIO(text, newline=""))
    except UnicodeDecodeError as trouble:
        line = path.read_bytes()[: trouble.start].count(b"\n") + 1
        raise BookError(f"{path}, line {line}: expected UTF-8. Nothing was taken in.") from trouble
    except OSError as trouble:
        raise BookError(f"{path} cannot be read: {trouble.strerror}; name another file.") from trouble
    except BadFile as trouble:
        raise BookError(f"{path}, {trouble}") from trouble
    return _planned(plan, options, world)


def _is_export(text: str) -> bool:
    return text.startswith("{") or text.startswith(",".join(CSV_COLUMNS))


def _restored(text: str, path: Path, world: Environment) -> ExitStatus:
    read = from_jsonl if text.startswith("{") else from_csv
    rows = list(read(StringIO(text, newline="")))
    made = not path.exists()
    try:
        with Book.open(path, world.clock) as book:
            count = book.restore(rows)
    except BookError:
        if made:
            path.unlink(missing_ok=True)
        raise
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
