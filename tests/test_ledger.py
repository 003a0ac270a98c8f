"""The book as a table for people."""

import io
from collections.abc import Iterator, Sequence
from datetime import UTC, datetime, timedelta

import pytest

from assistant.book.entries import Row
from assistant.book.store import Book
from assistant.report.ledger import BEARING, Line, all_lines, last_lines, lines, print_long, print_table, unproven
from assistant.talk.session import Session


def told(*words: str) -> Book:
    times = iter(datetime(2026, 5, 4, 7, tzinfo=UTC) + timedelta(minutes=n) for n in range(100))
    book = Book.scratch(lambda: next(times))
    session = Session(book)
    session.begin()
    for text in words:
        session.utterance([text])
    return book


SET_UP = ("rod in feet and inches", "baseline four foot two at station zero", "confirm")


def test_a_failed_check_marks_what_was_read_since_the_last_good_one() -> None:
    book = told(
        *SET_UP,
        "reading four foot six at ten",
        "check baseline four foot two",
        "reading four foot seven at twenty",
        "reading four foot nine at thirty",
        "scratch that",
        "reading four foot eight at thirty",
        "check baseline four foot three",
        "reading four foot eleven at station forty",
        "baseline four foot three at station zero",
        "confirm",
        "reading five foot at station fifty",
    )
    rows = list(book.rows())
    marked = {line.station for line in lines(rows) if "unproven" in line.cells()[2]}
    assert marked == {"0+20", "0+30", "0+40"}
    scratched = [line for line in lines(rows) if not line.stands]
    assert [line.reading for line in scratched] == ["4 ft 9 in"]
    assert len(unproven(rows)) == 4  # the scratched one as well, where it is not left out


def test_the_reply_tells_how_many_and_from_when() -> None:
    book = told(
        *SET_UP,
        "reading four foot seven at twenty",
        "reading four foot nine at thirty",
        "check baseline four foot three",
    )
    *_, last = book.rows()
    first = next(row for row in book.rows() if row.kind == "reading")
    assert f"Readings unproven: 2, from {first.time[11:16]} UTC on." in last.reply


def test_a_pipe_gets_one_whole_line_an_entry() -> None:
    book = told(*SET_UP, "reading four foot seven at twenty")
    stream = io.StringIO()
    print_table(lines(book.rows()), stream)
    table = stream.getvalue().splitlines()
    assert len(table) == 1 + 5
    assert table[-1].split()[:3] == ["5", "07:04:00", "reading"]
    assert "fill 5 in" in table[-1]


def test_the_end_of_a_long_book_is_shown_as_in_all_of_it_and_only_what_it_needs_is_read(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    book = told(
        *SET_UP,
        "reading four foot six at ten",
        "rod in tenths",
        "reading 4.7 at twenty",
        "scratch that",
        "check baseline four foot three",
        *(f"reading 4.{n} at {n}" for n in range(30, 70)),
        "scratch that",
    )
    whole = lines(book.rows())
    assert list(all_lines(book)) == whole
    read: list[int] = []
    reading = Book._read

    def counted(self: Book, which: str, values: Sequence[int | str]) -> Iterator[Row]:
        for row in reading(self, which, values):
            read.append(row.sequence)
            yield row

    monkeypatch.setattr(Book, "_read", counted)
    for count in (1, 5, 30, len(whole), 1000):
        assert last_lines(book, count) == whole[-count:]
    read.clear()
    last_lines(book, 5)
    end = read[-1]
    before = [line.sequence for line in whole if line.kind in BEARING and line.sequence <= end - 5]
    assert read == [*before, *range(end - 4, end + 1)]
    assert len(read) < len(whole)


def test_a_long_table_is_laid_out_block_by_block() -> None:
    book = told(*SET_UP, *(f"reading four foot seven at {n}" for n in range(10, 40)))
    given: list[int] = []

    def one_by_one() -> Iterator[Line]:
        for line in lines(book.rows()):
            given.append(line.sequence)
            yield line

    class Watched(io.StringIO):
        def write(self, text: str) -> int:
            waiting.append(given[-1])
            return super().write(text)

    waiting: list[int] = []
    stream = Watched()
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr("assistant.report.ledger.AT_A_TIME", 10)
        print_long(one_by_one(), stream)
    table = stream.getvalue().splitlines()
    assert len(table) == 1 + len(given)
    assert waiting[0] == 10 and waiting[-1] == given[-1]
    short = io.StringIO()
    print_table(lines(book.rows()), short)
    assert [line.split() for line in table] == [line.split() for line in short.getvalue().splitlines()]
