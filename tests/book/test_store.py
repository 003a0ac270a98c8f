"""A book loses nothing, changes nothing, and says what is wrong in one sentence."""

import json
import os
import random
import sqlite3
import subprocess
import sys
from collections.abc import Iterator
from datetime import UTC, datetime
from io import StringIO
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from assistant.book import store
from assistant.book.entries import Entry
from assistant.book.errors import (
    BookError,
    BookInUse,
    DamagedBook,
    DiskFull,
    NewerBook,
    NotABook,
    ReadOnlyBook,
)
from assistant.book.export import CSV_COLUMNS, from_jsonl, to_csv, to_jsonl
from assistant.book.store import Book
from assistant.book.verify import findings


def clock() -> datetime:
    return datetime(2026, 5, 4, 7, 30, tzinfo=UTC)


def write(book: Book, count: int, start: int = 0) -> None:
    for number in range(start, start + count):
        entry = Entry("reading", {"reading": f"{number}/12", "station": None})
        book.append([entry], heard=f"reading {number}", engine="typed", audio=None, reply="ok")


@pytest.fixture
def path(tmp_path: Path) -> Path:
    return tmp_path / "day.rodside"


def test_rows_come_back_as_written(path: Path) -> None:
    with Book.open(path, clock) as book:
        write(book, 3)
        written = list(book.rows())
    with Book.open(path, clock) as book:
        assert list(book.rows()) == written
        assert [row.sequence for row in book.rows(after=1)] == [2, 3]
        write(book, 1, start=3)
        assert list(findings(book.rows())) == []


def test_an_utterance_is_written_whole_or_not(path: Path) -> None:
    with Book.open(path, clock) as book:
        with pytest.raises(TypeError):
            book.append(
                [Entry("a", {}), Entry("b", {"x": 0.5})],
                heard=None,
                engine=None,
                audio=None,
                reply="",
            )
        assert list(book.rows()) == []


@pytest.mark.parametrize(
    "change",
    [
        "UPDATE entries SET reply = 'other' WHERE sequence = 1",
        "DELETE FROM entries WHERE sequence = 2",
        "REPLACE INTO entries SELECT 1, time, kind, '{}', heard, engine, audio, reply, previous, hash"
        " FROM entries WHERE sequence = 1",
        "INSERT INTO entries SELECT 9, time, kind, payload, heard, engine, audio, reply, previous, hash"
        " FROM entries WHERE sequence = 1",
    ],
)
def test_nothing_is_changed_erased_or_skipped(path: Path, change: str) -> None:
    with Book.open(path, clock) as book:
        write(book, 2)
    outside = sqlite3.connect(path)
    with pytest.raises(sqlite3.IntegrityError, match="a book"):
        outside.execute(change)
    outside.close()


def test_a_folder_a_text_and_another_database_are_no_books(tmp_path: Path) -> None:
    text = tmp_path / "notes.txt"
    text.write_text("cut two feet")
    empty = tmp_path / "empty"
    empty.touch()
    other = tmp_path / "other.db"
    connection = sqlite3.connect(other)
    connection.execute("CREATE TABLE entries (a)")
    connection.close()
    before = other.read_bytes()
    for place in (tmp_path, text, empty, other, tmp_path / "no" / "folder"):
        for read_only in (False, True):
            with pytest.raises(NotABook):
                Book.open(place, clock, read_only=read_only)
    assert text.read_text() == "cut two feet"
    assert other.read_bytes() == before


def test_nothing_is_made_when_only_reading(path: Path) -> None:
    with pytest.raises(NotABook):
        Book.open(path, clock, read_only=True)
    assert not path.exists()


def test_a_newer_book_is_read_and_not_added_to(path: Path) -> None:
    with Book.open(path, clock) as book:
        write(book, 2)
    outside = sqlite3.connect(path)
    outside.execute(f"PRAGMA user_version = {store.FORMAT + 1}")
    outside.close()
    with pytest.raises(NewerBook):
        Book.open(path, clock)
    with Book.open(path, clock, read_only=True) as book:
        assert len(list(book.rows())) == 2


def test_a_second_writer_is_refused_and_a_reader_is_not(path: Path) -> None:
    with Book.open(path, clock) as book:
        write(book, 2)
        with pytest.raises(BookInUse):
            Book.open(path, clock)
        with Book.open(path, clock, read_only=True) as reader:
            assert len(list(reader.rows())) == 2
        write(book, 1, start=2)
    with Book.open(path, clock) as book:
        assert len(list(book.rows())) == 3


def test_a_reader_cannot_write(path: Path) -> None:
    with Book.open(path, clock) as book:
        write(book, 1)
    with Book.open(path, clock, read_only=True) as reader, pytest.raises(ReadOnlyBook):
        write(reader, 1)


def test_a_full_disk_loses_nothing_that_was_written(path: Path) -> None:
    with Book.open(path, clock) as book:
        write(book, 5)
        connection = book._connection
        pages = connection.execute("PRAGMA page_count").fetchone()[0]
        connection.execute(f"PRAGMA max_page_count = {pages}")
        with pytest.raises(DiskFull, match="full"):
            write(book, 500, start=5)
        kept = len(list(book.rows()))
        assert kept >= 5
        connection.execute("PRAGMA max_page_count = 1000000")
        write(book, 1, start=kept)
        assert list(findings(book.rows())) == []
        assert len(list(book.rows())) == kept + 1


@pytest.fixture
def small_disk(tmp_path: Path) -> Iterator[Path]:
    place = tmp_path / "disk"
    place.mkdir()
    if os.name != "posix" or os.geteuid() != 0:
        pytest.skip("only root can mount a small disk")
    made = subprocess.run(["mount", "-t", "tmpfs", "-o", "size=64k", "none", place], check=False)
    if made.returncode != 0:
        pytest.skip("a small disk cannot be mounted here")
    yield place
    subprocess.run(["umount", place], check=False)


def test_a_disk_that_is_really_full(small_disk: Path) -> None:
    with Book.open(small_disk / "day.rodside", clock) as book:
        written = 0
        with pytest.raises(DiskFull):
            for written in range(10_000):
                write(book, 1, start=written)
        assert len(list(book.rows())) == written
        assert list(findings(book.rows())) == []


def test_a_disk_that_cannot_be_written(small_disk: Path) -> None:
    book_path = small_disk / "day.rodside"
    with Book.open(book_path, clock) as book:
        write(book, 3)
    subprocess.run(["mount", "-o", "remount,ro", small_disk], check=True)
    with pytest.raises(ReadOnlyBook):
        Book.open(book_path, clock)
    with Book.open(book_path, clock, read_only=True) as book:
        assert len(list(book.rows())) == 3


def test_every_changed_byte_is_found_or_refused(path: Path) -> None:
    """A byte within the rows' text is found by the chain; anywhere else it may do no harm, but never crashes."""
    with Book.open(path, clock) as book:
        write(book, 40)
        sound = list(book.rows())
    data = path.read_bytes()
    dice = random.Random(4)
    for _ in range(300):
        at = dice.randrange(len(data))
        spoiled = bytearray(data)
        spoiled[at] ^= 1 << dice.randrange(8)
        path.write_bytes(bytes(spoiled))
        try:
            with Book.open(path, clock, read_only=True) as book:
                rows = list(book.rows())
                found = list(findings(rows))
        except BookError:
            continue
        assert found or rows == sound or len(rows) < len(sound)


def test_a_cut_off_file_is_damaged_or_not_a_book(path: Path) -> None:
    with Book.open(path, clock) as book:
        write(book, 200)
    data = path.read_bytes()
    for length in (1, 50, 99, 4096, len(data) // 2, len(data) - 10):
        path.write_bytes(data[:length])
        with pytest.raises((DamagedBook, NotABook)), Book.open(path, clock, read_only=True) as book:
            rows = list(book.rows())
            assert len(rows) == 200


def test_a_changed_row_is_named(path: Path) -> None:
    with Book.open(path, clock) as book:
        write(book, 10)
        rows = list(book.rows())
    rows[4] = rows[4]._replace(reply="other")
    del rows[7]
    assert list(findings(rows)) == ["entry 5 was changed", "entry 8 is missing"]


def test_the_one_file_is_whole_after_each_answer(path: Path, tmp_path: Path) -> None:
    """Copied alone, while the program runs, as a person would copy it."""
    with Book.open(path, clock) as book:
        write(book, 7)
        book.settle()
        copy = tmp_path / "copy.rodside"
        copy.write_bytes(path.read_bytes())
        with Book.open(copy, clock) as other:
            assert list(other.rows()) == list(book.rows())


exact = st.fractions().map(str)
payloads = st.dictionaries(
    st.text(max_size=5),
    st.none() | st.booleans() | st.integers() | exact | st.text(max_size=9),
    max_size=4,
)
texts = st.none() | st.text(alphabet=st.characters(exclude_categories=["Cs"]), max_size=20)


@settings(max_examples=100, deadline=None)
@given(st.lists(st.tuples(st.text(alphabet="abc ", min_size=1), payloads, texts, texts), max_size=6))
def test_json_lines_lose_nothing(
    entries: list[tuple[str, dict[str, object], str | None, str | None]],
) -> None:
    with Book.scratch(clock) as book:
        for kind, payload, heard, engine in entries:
            try:
                book.append([Entry(kind, payload)], heard=heard, engine=engine, audio=None, reply="r")
            except UnicodeEncodeError:
                continue
        rows = list(book.rows())
    stream = StringIO()
    to_jsonl(rows, stream)
    stream.seek(0)
    back = list(from_jsonl(stream))
    assert back == rows
    assert list(findings(back)) == []


def test_csv_holds_every_payload_exactly(path: Path) -> None:
    import csv

    with Book.open(path, clock) as book:
        write(book, 3)
        rows = list(book.rows())
    stream = StringIO(newline="")
    to_csv(rows, stream)
    assert stream.getvalue().count("\r\n") == 4
    stream.seek(0)
    table = list(csv.DictReader(stream))
    assert tuple(table[0]) == CSV_COLUMNS
    assert [json.loads(line["payload"]) for line in table] == [row.payload for row in rows]
    assert [line["hash"] for line in table] == [row.hash for row in rows]


WRITER = """
import sys
from pathlib import Path
from assistant.book.store import Book
from assistant.environment import now
from assistant.session import Session
with Book.open(Path(sys.argv[1]), now) as book:
    session = Session(book)
    for words in ("rod in feet and inches", "baseline four foot two at station zero", "confirm"):
        session.utterance([words])
    print("ready", flush=True)
    for number in range(1000):
        outcome = session.utterance([f"reading four foot two at {10 + number}"])
        print(outcome.rows[0].sequence, flush=True)
"""


@pytest.mark.parametrize("seed", range(12))
def test_what_was_answered_is_in_the_book_after_a_kill(path: Path, seed: int) -> None:
    """Killed in the middle of a thousand readings: every reading whose reply was printed is there."""
    dice = random.Random(seed)
    command = [sys.executable, "-c", WRITER, str(path)]
    child = subprocess.Popen(command, stdout=subprocess.PIPE, text=True)
    assert child.stdout is not None
    assert child.stdout.readline() == "ready\n"
    printed = [child.stdout.readline() for _ in range(dice.randrange(1, 900))]
    child.kill()
    printed += child.stdout.readlines()
    child.wait()
    child.stdout.close()
    last = max(int(line) for line in printed if line.endswith("\n"))
    with Book.open(path, clock) as book:
        rows = list(book.rows())
        assert list(findings(rows)) == []
        assert rows[-1].sequence >= last
        write(book, 1)
