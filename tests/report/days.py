"""Five days of our own, told to a book."""

from datetime import UTC, datetime, timedelta
from itertools import count
from pathlib import Path

import yaml

from assistant.book.store import Book
from assistant.session import Session

DAYS = sorted((Path(__file__).parent / "days").glob("*.yaml"))


def told(utterances: list[str], path: Path | None = None) -> Book:
    minutes = count()

    def clock() -> datetime:
        return datetime(2026, 5, 4, 7, tzinfo=UTC) + timedelta(seconds=40 * next(minutes))

    book = Book.scratch(clock) if path is None else Book.open(path, clock)
    session = Session(book)
    session.begin()
    for text in utterances:
        session.utterance([str(text)])
    return book


def day(name: str, path: Path | None = None) -> Book:
    return told(yaml.safe_load((Path(__file__).parent / "days" / f"{name}.yaml").read_text()), path)
