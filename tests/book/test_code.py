"""The short code of the head of a chain."""

from pathlib import Path

import pytest
from books import clock, write

from assistant.book.code import begins_so, code, normal, spoken
from assistant.book.store import Book

HEAD = "b21058509b77e0917bdb31f86b286c659ba2464509d397787451ec164a9a5bde"


def test_a_code_is_sixty_bits_in_base_32() -> None:
    """By hand: b21058509b77e09 is 10110 01000 01000 00101 10000 10100 00100 11011 01110 11111 10000 01001 in binary."""
    assert code(26, HEAD) == "26 P885 GM4V EZG9"
    assert spoken(code(26, HEAD)) == ("two six, papa eight eight five, golf mike four victor, echo zulu golf nine")


@pytest.mark.parametrize(
    "written", ["26 P885 GM4V EZG9", "26-p885-gm4v-ezg9", "26 P885GM4VEZG9", " 026 p885 GM4V ezg9 "]
)
def test_a_code_is_known_however_it_was_written(written: str) -> None:
    assert normal(written) == "26 P885 GM4V EZG9"


def test_what_looks_alike_is_alike() -> None:
    assert normal("1 OIL0 0000 0000") == "1 0110 0000 0000"


@pytest.mark.parametrize(
    "written", ["", "26", "P885 GM4V EZG9", "26 P885 GM4V EZG", "26 P885 GM4V EZGU", "x P885 GM4V EZG9"]
)
def test_what_is_no_code_is_refused(written: str) -> None:
    with pytest.raises(ValueError, match="no code"):
        normal(written)


def test_a_book_begins_as_its_codes_say_and_another_does_not(path: Path, tmp_path: Path) -> None:
    with Book.open(path, clock) as book, Book.open(tmp_path / "other", clock) as other:
        write(book, 5)
        write(other, 5, start=1)
        rows, others = list(book.rows()), list(other.rows())
    for row in rows:
        assert begins_so(rows, code(row.sequence, row.hash))
        assert not begins_so(others, code(row.sequence, row.hash))
    assert not begins_so(rows[:3], code(4, rows[3].hash))
