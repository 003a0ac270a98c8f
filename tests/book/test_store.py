"""A book loses nothing and changes nothing."""

import os
import sqlite3
import subprocess
from fractions import Fraction
from pathlib import Path

import pytest
from books import CHILD, PYTHON, clock, count, die_writing, write

from assistant.book.entries import Entry
from assistant.book.errors import BookError, BookInUse
from assistant.book.store import Book
from assistant.book.verify import findings


def test_rows_come_back_as_written(path: Path) -> None:
    with Book.open(path, clock) as book:
        write(book, 3)
        written = list(book.rows())
    with Book.open(path, clock) as book:
        assert list(book.rows()) == written
        assert [row.sequence for row in book.rows(after=1)] == [2, 3]
        write(book, 1, start=3)
        assert list(findings(book.rows())) == []


@pytest.mark.parametrize(
    ("asked", "given"), [(0, []), (1, [5]), (2, [4, 5]), (5, [1, 2, 3, 4, 5]), (9, [1, 2, 3, 4, 5])]
)
def test_the_last_rows_come_in_order(path: Path, asked: int, given: list[int]) -> None:
    with Book.open(path, clock) as book:
        write(book, 5)
        assert [row.sequence for row in book.last(asked)] == given


def test_an_empty_book_has_no_last_row() -> None:
    with Book.scratch(clock) as book:
        assert book.last(3) == ()


@pytest.mark.parametrize("value", [0.5, float("nan"), Fraction(1, 2), b"1/2", {1: "one"}, [{"x": [0.5]}]])
def test_what_is_not_exact_json_is_the_authors_mistake(value: object) -> None:
    with pytest.raises(TypeError):
        Entry("reading", {"x": value})


def test_an_utterance_is_written_whole_or_not_and_the_book_goes_on(path: Path) -> None:
    """A payload that was spoiled after the entry was made fails in the middle of the transaction."""
    payload: dict[str, object] = {}
    spoiled = Entry("b", payload)
    payload["x"] = float("nan")
    with Book.open(path, clock) as book:
        write(book, 1)
        with pytest.raises(ValueError, match="Out of range"):
            book.append([Entry("a", {}), spoiled], heard=None, engine=None, audio=None, reply="")
        with pytest.raises(TypeError):
            book.append([Entry("a", {})], heard=None, engine=None, audio=b"", reply="")  # type: ignore[arg-type]
        assert len(list(book.rows())) == 1
        write(book, 1, start=1)
        assert [row.sequence for row in book.rows()] == [1, 2]


def test_a_stray_byte_from_a_terminal_is_no_reason_to_lose_an_entry(path: Path) -> None:
    with Book.open(path, clock) as book:
        (row,) = book.append([Entry("a", {"x": "\udcff"})], heard="\udcff", engine=None, audio=None, reply="\ud800")
        assert (row.heard, row.reply, row.payload) == ("\\udcff", "\\ud800", {"x": "\udcff"})
        assert list(book.rows()) == [row]
        assert list(findings([row])) == []


@pytest.mark.parametrize(
    "change",
    [
        "UPDATE entries SET reply = 'other' WHERE sequence = 1",
        "DELETE FROM entries WHERE sequence = 2",
        "REPLACE INTO entries SELECT 1, time, kind, '{}', heard, engine, audio, reply, previous, hash"
        " FROM entries WHERE sequence = 1",
        "INSERT OR REPLACE INTO entries SELECT 2, time, kind, '{}', heard, engine, audio, reply, previous, hash"
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


def test_a_column_takes_only_its_own_type(path: Path) -> None:
    Book.open(path, clock).close()
    outside = sqlite3.connect(path)
    with pytest.raises(sqlite3.IntegrityError, match="cannot store BLOB"):
        outside.execute("INSERT INTO entries VALUES (1, '', '', x'00', NULL, NULL, NULL, '', '', '')")
    outside.close()


def test_a_second_writer_is_refused_and_a_reader_is_not(path: Path) -> None:
    with Book.open(path, clock) as book:
        write(book, 2)
        with pytest.raises(BookInUse):
            Book.open(path, clock)
        assert count(path) == 2
        write(book, 1, start=2)
    assert count(path, read_only=False) == 3


OTHER = """
import sys
from pathlib import Path
from assistant.book.errors import BookError
from assistant.book.store import Book
try:
    with Book.open(Path(sys.argv[1]), read_only=sys.argv[2] == "read") as book:
        print(len(list(book.rows())))
except BookError as trouble:
    print(type(trouble).__name__)
"""


def other_process(path: Path, how: str) -> str:
    command = [PYTHON, "-c", OTHER, str(path), how]
    return subprocess.run(command, env=CHILD, check=True, capture_output=True, text=True).stdout.strip()


def test_another_process_reads_beside_the_writer_and_does_not_write(path: Path) -> None:
    with Book.open(path, clock) as book:
        write(book, 2)
        assert other_process(path, "write") == "BookInUse"
        assert other_process(path, "read") == "2"
    assert other_process(path, "write") == "2"


def test_the_lock_dies_with_its_process(path: Path) -> None:
    die_writing(path, 3)
    assert count(path, read_only=False) == 3


def test_readers_and_refused_writers_take_nothing_from_the_one_that_writes(path: Path) -> None:
    """Closing any descriptor of a file drops a process's POSIX locks on it; the log must outlive that."""
    child = os.fork()
    if child == 0:
        try:
            book = Book.open(path, clock)
            write(book, 3)
            count(path)
            try:
                Book.open(path, clock)
            except BookInUse:
                other_process(path, "read")
                write(book, 5, start=3)
        finally:
            os.kill(os.getpid(), 9)
    os.waitpid(child, 0)
    assert count(path) == 8


def test_a_book_that_is_closed_is_free_though_a_reader_stays(path: Path) -> None:
    with Book.open(path, clock) as book, Book.open(path, clock, read_only=True) as reader:
        write(book, 1)
        book.close()
        with Book.open(path, clock) as again:
            write(again, 1, start=1)
        assert len(list(reader.rows())) == 2


@pytest.mark.parametrize("how", ["moved", "removed", "replaced"])
def test_nothing_is_answered_that_goes_to_a_file_that_is_gone(path: Path, tmp_path: Path, how: str) -> None:
    with Book.open(path, clock) as book:
        write(book, 1)
        path.rename(tmp_path / "elsewhere")
        if how == "removed":
            (tmp_path / "elsewhere").unlink()
        if how == "replaced":
            path.write_bytes(b"other")
        with pytest.raises(BookError, match="moved or removed"):
            write(book, 1)


def test_the_one_file_is_whole_after_each_answer(path: Path, tmp_path: Path) -> None:
    """Copied alone, while the program runs, as a person would copy it."""
    with Book.open(path, clock) as book:
        write(book, 7)
        book.settle()
        copy = tmp_path / "copy.rodside"
        subprocess.run(["cp", path, copy], check=True)
        with Book.open(copy, clock) as other:
            assert list(other.rows()) == list(book.rows())
