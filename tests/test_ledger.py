"""The book as a table for people."""

import io
from datetime import UTC, datetime, timedelta

from assistant.book.store import Book
from assistant.ledger import lines, print_table, unproven
from assistant.session import Session


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
    print_table(book.rows(), stream)
    table = stream.getvalue().splitlines()
    assert len(table) == 1 + 5
    assert table[-1].split()[:3] == ["5", "07:04:00", "reading"]
    assert "fill 5 in" in table[-1]
