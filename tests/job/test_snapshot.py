"""A job opened from a snapshot answers as one that was folded whole; and no changed byte goes unnoticed by that."""

from __future__ import annotations

import json
import stat
from collections.abc import Iterator
from datetime import UTC, datetime
from pathlib import Path
from tempfile import TemporaryDirectory

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from job.test_properties import BEFORE, TAKEN_BACK

from assistant.book import file, proven
from assistant.book.entries import Row
from assistant.book.errors import BookError, DamagedBook
from assistant.book.store import Book
from assistant.job import snapshot
from assistant.job.records import ReadingRecord
from assistant.talk.session import Session

THEN = datetime(2026, 5, 4, 7, 30, tzinfo=UTC)

SAID = (
    *TAKEN_BACK,
    *(f"reading five point {n} at station {n}0" for n in range(1, 10)),
    "confirm",
    "never mind",
    "scratch that",
    "no five point four",
    "the reading at station ten should be five point three",
    "grade rod at station forty",
)

ASKED = (
    "read back the last three",
    "what is left at station ten",
    "how much is left at station twenty",
    "cut at station thirty",
    "how much dirt",
    "how sure are you",
    "the slope we got",
    "the reading at station ten should be five point nine",
    "confirm",
    *("scratch that",) * 12,
    "reading five point five at station twenty",
)


@pytest.fixture(autouse=True)
def short(monkeypatch: pytest.MonkeyPatch) -> None:
    """A book of six entries is long here, and its last two are folded at each opening."""
    monkeypatch.setattr(proven, "LONG", 6)
    monkeypatch.setattr(snapshot, "LONG", 6)
    monkeypatch.setattr(snapshot, "KEPT_BACK", 2)
    monkeypatch.setattr(snapshot, "BLOCK", 2)


@pytest.fixture
def read(monkeypatch: pytest.MonkeyPatch) -> list[int]:
    """The numbers of the rows that were read, in the order in which they were."""
    numbers: list[int] = []
    reading = Book._read

    def counted(self: Book, which: str, values: tuple[int, ...]) -> Iterator[Row]:
        for row in reading(self, which, values):
            numbers.append(row.sequence)
            yield row

    monkeypatch.setattr(Book, "_read", counted)
    return numbers


def talk(path: Path, cache: Path | None, said: list[str]) -> list[tuple[str, list[tuple[str, str]]]]:
    """What is answered and written, each to a program started anew."""
    answers = []
    for words in said:
        with Book.open(path, lambda: THEN, cache=cache) as book:
            outcome = Session(book).utterance([words])
            answers.append((outcome.reply.shown, [(row.kind, row.payload_text) for row in outcome.rows]))
    return answers


@given(st.lists(st.sampled_from(SAID), min_size=4, max_size=14), st.permutations(ASKED))
@settings(max_examples=12, deadline=None)
def test_it_answers_as_a_job_that_was_folded_whole(said: list[str], asked: list[str]) -> None:
    with TemporaryDirectory() as name:
        folder = Path(name)
        told = [*BEFORE, *said, *asked]
        told = [words for one in told for words in ((one, "confirm") if one in BEFORE else (one,))]
        kept = talk(folder / "kept", folder / "cache", told)
        assert kept == talk(folder / "whole", None, told)
        assert list((folder / "cache").glob("*.job"))


def long_book(path: Path, cache: Path, readings: int = 30) -> None:
    with Book.open(path, lambda: THEN, cache=cache) as book:
        session = Session(book)
        for words in (*BEFORE, *(f"reading 5.{n:02} at station {n}" for n in range(10, 10 + readings))):
            if session.utterance([words]).reply.asks:
                session.utterance(["confirm"])
    for _ in range(2):  # the first of these proves it, and keeps the notes
        with Book.open(path, lambda: THEN, cache=cache) as book:
            Session(book)


def test_only_the_end_is_read_of_a_book_that_is_known(tmp_path: Path, read: list[int]) -> None:
    path, cache = tmp_path / "book", tmp_path / "cache"
    long_book(path, cache)
    read.clear()
    with Book.open(path, lambda: THEN, cache=cache) as book:
        last = book.head()[0]
        session = Session(book)
        session.utterance(["read back the last three"])
        assert len(read) < 12, read
        assert session.job.last_reading is not None
        assert [record.row.kind for record in session.job.readings()] == ["reading"] * session.job.reading_count
    assert last > 30


def test_something_older_than_the_snapshot_is_taken_back(tmp_path: Path) -> None:
    path, cache = tmp_path / "book", tmp_path / "cache"
    long_book(path, cache)
    with Book.open(path, lambda: THEN, cache=cache) as book:
        session = Session(book)
        for _ in range(20):
            session.utterance(["scratch that"])
        assert session.job.reaches_back
        whole = Session(Book.scratch()).job.folded(book.rows())
        assert [record.row for record in session.job.readings()] == [record.row for record in whole.readings()]


def test_what_cannot_be_read_of_an_old_entry_is_a_reply(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    path, cache = tmp_path / "book", tmp_path / "cache"
    long_book(path, cache)
    with Book.open(path, lambda: THEN, cache=cache) as book:
        session = Session(book)
        scratched = [session.utterance(["scratch that"]) for _ in range(2)]
        assert all(outcome.rows for outcome in scratched) and not session.job.reaches_back

        def broken(self: Book, which: str, values: tuple[int, ...]) -> Iterator[Row]:
            raise BookError("The disk does not answer.")

        with monkeypatch.context() as patch:
            patch.setattr(Book, "_read", broken)
            outcome = session.utterance(["scratch that"])
        assert "The disk does not answer." in outcome.reply.shown and not outcome.rows
        assert session.utterance(["scratch that"]).rows


def changed(path: Path, what: bytes, by: bytes) -> None:
    content = path.read_bytes()
    assert what in content and len(what) == len(by)
    path.write_bytes(content.replace(what, by, 1))


def test_a_byte_changed_while_it_was_closed_is_found(tmp_path: Path) -> None:
    path, cache = tmp_path / "book", tmp_path / "cache"
    long_book(path, cache)
    changed(path, b"5.12 ft", b"5.13 ft")
    with pytest.raises(DamagedBook):
        Book.open(path, lambda: THEN, cache=cache)
    with pytest.raises(DamagedBook):  # and again: nothing was noted of it
        Book.open(path, lambda: THEN, cache=cache)


def test_a_byte_changed_while_it_was_open_is_found(tmp_path: Path) -> None:
    path, cache = tmp_path / "book", tmp_path / "cache"
    long_book(path, cache)
    with Book.open(path, lambda: THEN, cache=cache) as book:
        Session(book).utterance(["reading 5.77 at station 99"])
        changed_in_place(path, b"5.12 ft", b"5.13 ft")
    with pytest.raises(DamagedBook):
        Book.open(path, lambda: THEN, cache=cache)


def changed_in_place(path: Path, what: bytes, by: bytes) -> None:
    with path.open("r+b") as stream:
        stream.seek(stream.read().index(what))
        stream.write(by)


@pytest.mark.parametrize("what", ["proof", "job"])
@pytest.mark.parametrize("content", [b"", b"{}", b"\xff\n[", b"0" * 64 + b"\n[1]"])
def test_a_note_that_is_none_is_passed_over(tmp_path: Path, what: str, content: bytes) -> None:
    path, cache = tmp_path / "book", tmp_path / "cache"
    long_book(path, cache)
    (note,) = cache.glob(f"*.{what}")
    note.write_bytes(content)
    with Book.open(path, lambda: THEN, cache=cache) as book:
        assert Session(book).job.reading_count == 31


@pytest.mark.parametrize("value", [None, [], [3], ["x", "y", {}, []], [3, "0" * 64, {"rows": [], "fields": {}}, []]])
def test_a_snapshot_of_another_book_is_passed_over(tmp_path: Path, value: object) -> None:
    path, cache = tmp_path / "book", tmp_path / "cache"
    long_book(path, cache)
    proven.Notes(cache, path).keep("job", value)
    with Book.open(path, lambda: THEN, cache=cache) as book:
        assert Session(book).job.reading_count == 31


def test_another_program_believes_no_note(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    notes = proven.Notes(tmp_path, tmp_path / "book")
    notes.keep("job", [1])
    assert notes.read("job") == [1]
    monkeypatch.setattr(proven, "program", lambda: "another")
    assert notes.read("job") is None


def test_notes_are_for_this_person_and_plain_data(tmp_path: Path) -> None:
    path, cache = tmp_path / "book", tmp_path / "cache"
    long_book(path, cache)
    notes = list(cache.iterdir())
    assert {note.suffix for note in notes} == {".proof", ".job"}
    for note in notes:
        assert stat.S_IMODE(note.stat().st_mode) == 0o600
        json.loads(note.read_bytes().partition(b"\n")[2])
    assert stat.S_IMODE(cache.stat().st_mode) == 0o700


def test_a_place_where_nothing_can_be_kept_is_no_trouble(tmp_path: Path) -> None:
    (tmp_path / "file").write_bytes(b"")
    long_book(tmp_path / "book", tmp_path / "file" / "cache")


def test_a_very_long_chain_of_readings_is_let_go_of() -> None:
    row = Row(1, "", "reading", "{}", None, None, None, "", "", "")
    record = None
    for _ in range(300_000):
        record = ReadingRecord(row, record)
    del record


@pytest.fixture
def finely(monkeypatch: pytest.MonkeyPatch) -> None:
    """Small chunks, so that a book of some pages has a middle."""
    monkeypatch.setattr(proven, "CHUNK", 8192)
    monkeypatch.setattr(file, "CHUNK", 8192)
    monkeypatch.setattr(proven, "GROWS", 3)
    monkeypatch.setattr(proven, "AT_THE_START", 41)


@pytest.mark.usefixtures("finely")
def test_own_entries_are_noted_and_not_proved_again(tmp_path: Path, read: list[int]) -> None:
    path, cache = tmp_path / "book", tmp_path / "cache"
    long_book(path, cache, 150)
    for number in range(5):
        with Book.open(path, lambda: THEN, cache=cache) as book:
            Session(book).utterance([f"reading 5.77 at station {200 + number}"])
        read.clear()
        Book.open(path, lambda: THEN, cache=cache).close()
        assert not read


@pytest.mark.usefixtures("finely")
@pytest.mark.parametrize("entry", [1, 20, 80, 130, 160, 167])
def test_a_byte_changed_beside_own_entries_is_found(tmp_path: Path, entry: int) -> None:
    path, cache = tmp_path / "book", tmp_path / "cache"
    long_book(path, cache, 150)
    with Book.open(path, lambda: THEN, cache=cache) as book:
        (row,) = book.rows_of([entry])
        session = Session(book)
        session.utterance(["reading 5.77 at station 299"])
        session.settle()
        changed_in_place(path, row.hash.encode(), row.hash[::-1].encode())
    with pytest.raises(DamagedBook):
        Book.open(path, lambda: THEN, cache=cache)
