"""Days of our own, told to a book: small ones here, and the whole days of tests/days."""

from datetime import UTC, datetime, timedelta
from itertools import count
from pathlib import Path

from assistant.book.store import Book
from assistant.talk.session import Session

HERE = Path(__file__).parent
DAYS = [*sorted((HERE / "days").glob("*.yaml")), *sorted((HERE.parent / "days").glob("*.txt"))]


def told(utterances: list[str], path: Path | None = None) -> Book:
    minutes = count()

    def clock() -> datetime:
        return datetime(2026, 5, 4, 7, tzinfo=UTC) + timedelta(seconds=40 * next(minutes))

    book = Book.scratch(clock) if path is None else Book.open(path, clock)
    session = Session(book)
    session.begin()
    for text in utterances:
        session.utterance([text])
    return book


def day(name: str, path: Path | None = None) -> Book:
    (place,) = (one for one in DAYS if one.stem == name)
    lines = place.read_text("utf-8").splitlines()
    return told([line.removeprefix("- ") for line in lines if line.strip() and not line.startswith("#")], path)
