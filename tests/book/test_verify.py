"""`rodside verify` walks a book once, holds little of it, and names what it could not look at."""

import io
import tempfile
from collections.abc import Iterator
from pathlib import Path

import pytest
from books import clock

from assistant import cli
from assistant.book import layout
from assistant.book.entries import Entry, Row
from assistant.book.store import Book
from assistant.commands import verify
from assistant.environment import Environment, ExitStatus
from assistant.report import arithmetic
from assistant.talk.session import Session

TALK = (
    "rod in tenths", "benchmark 100", "confirm", "backsight 4.00", "confirm",
    "line from station zero at elevation 99 falling one percent", "confirm",
    *(f"reading 5.{number:02} at {number}0" for number in range(1, 31)),
)  # fmt: skip


def day(path: Path, *more: str) -> list[Row]:
    with Book.open(path, clock) as book:
        session = Session(book)
        for words in (*TALK, *more):
            session.utterance([words])
        return list(book.rows())


def verified(path: Path) -> tuple[int, str, str]:
    out, errors = io.StringIO(), io.StringIO()
    status = cli.main(["verify", str(path)], Environment(stdout=out, stderr=errors, clock=clock))
    return status, out.getvalue(), errors.getvalue()


@pytest.fixture
def read(monkeypatch: pytest.MonkeyPatch) -> list[int]:
    """The numbers of the rows that were read."""
    numbers: list[int] = []
    reading = Book._read

    def counted(self: Book, which: str, values: tuple[int, ...]) -> Iterator[Row]:
        for row in reading(self, which, values):
            numbers.append(row.sequence)
            yield row

    monkeypatch.setattr(Book, "_read", counted)
    return numbers


def test_each_row_is_read_once(path: Path, read: list[int], monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(arithmetic, "KEPT_BACK", 3)
    rows = day(path, "scratch that", "reading 5.5 at 50")
    read.clear()
    assert verified(path)[0] == ExitStatus.OK
    assert read == [row.sequence for row in rows]


def test_an_old_entry_that_was_taken_back_has_the_book_walked_again(
    path: Path, read: list[int], monkeypatch: pytest.MonkeyPatch
) -> None:
    """The line goes, after more readings than are held: what is read then has no grade, as it was written."""
    monkeypatch.setattr(arithmetic, "KEPT_BACK", 3)
    rows = day(path, *["scratch that"] * 31, *(f"reading 5.{number} at {number}0" for number in range(10, 40)))
    line = next(row.sequence for row in rows if row.kind == "line")
    assert any(row.kind == "scratch" and row.payload["sequence"] == line for row in rows)
    read.clear()
    assert verified(path)[0] == ExitStatus.OK
    assert len(rows) < len(read) < 2 * len(rows), "once more, and not at every scratch"


def test_it_tells_how_far_it_is(path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(verify, "TOLD_EVERY", 10)
    rows = day(path)
    told = verified(path)[2].splitlines()
    assert len(told) == len(rows) // 10
    assert told[0] == "rodside: 10 entries were looked at; the walk goes on."


def test_a_changed_byte_of_an_empty_place_is_named(path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """In each block of the file."""
    day(path)
    monkeypatch.setattr(layout, "BLOCK", 4096)
    whole = path.read_bytes()
    empty = [at for at in range(0, len(whole), 4096) if b"\0" * 8 in whole[at + 100 : at + 4096]]
    assert len(empty) > 2
    for page in empty:
        at = whole.index(b"\0" * 8, page + 100)
        path.write_bytes(whole[: at + 4] + b"x" + whole[at + 5 :])
        status, out, _ = verified(path)
        assert (status, f"byte {at + 4} of the file was changed" in out) == (ExitStatus.NOT_UNDERSTOOD, True)


def test_without_a_place_for_the_copy_it_says_so(path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    day(path)
    monkeypatch.setattr(tempfile, "tempdir", "/nowhere")
    status, out, _ = verified(path)
    assert status == ExitStatus.NOT_UNDERSTOOD
    assert "the bytes of the file were not compared" in out


def test_an_entry_that_cannot_be_worked_out_is_named(path: Path) -> None:
    last = day(path)[-1].sequence
    with Book.open(path, clock) as book:
        book.append([Entry("trip", {"minutes": "ten"})], heard="", engine="typed", audio=None, reply="")
    status, out, _ = verified(path)
    assert (status, f"entry {last + 1} cannot be worked out again (trip)" in out) == (ExitStatus.NOT_UNDERSTOOD, True)
