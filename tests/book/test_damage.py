"""What was written and is not there any more is found, and named where it can be."""

import random
import struct
from pathlib import Path

import pytest
from books import clock, count, write

from assistant.book.entries import Row
from assistant.book.errors import BookError, DamagedBook
from assistant.book.export import to_csv, to_jsonl
from assistant.book.store import Book
from assistant.book.verify import findings

PAGE = 4096


def sound_rows(path: Path, rows: int) -> list[Row]:
    with Book.open(path, clock) as book:
        write(book, rows)
        return list(book.rows())


def look(path: Path) -> tuple[list[Row], bool]:
    """The rows that can be read, and whether trouble was told."""
    rows: list[Row] = []
    try:
        with Book.open(path, clock, read_only=True) as book:
            rows.extend(book.rows())
            with Path("/dev/null").open("w") as nowhere:
                to_jsonl(rows, nowhere)
                to_csv(rows, nowhere)
    except BookError:
        return rows, True
    return rows, any(findings(rows))


def refuses_to_write(path: Path) -> bool:
    """Whether the book is not opened to be added to, which asks for more than reading does: its rules too."""
    try:
        Book.open(path, clock).close()
    except BookError:
        return True
    return False


@pytest.mark.parametrize("seed", range(3))
def test_every_changed_bit_is_told_or_does_no_harm(path: Path, seed: int) -> None:
    """Of a few hundred: either every row is as it was, or there is a finding or a `BookError`; never less, unsaid."""
    sound = sound_rows(path, 40)
    data = path.read_bytes()
    dice = random.Random(seed)
    told = 0
    for _ in range(300):
        spoiled = bytearray(data)
        spoiled[dice.randrange(len(data))] ^= 1 << dice.randrange(8)
        path.write_bytes(bytes(spoiled))
        rows, trouble = look(path)
        assert trouble or rows == sound
        told += trouble
        assert rows == sound or refuses_to_write(path)
    assert told > 100


@pytest.mark.parametrize("rows", [5, 60])
def test_a_row_that_drops_from_the_end_is_told(path: Path, rows: int) -> None:
    """The chain cannot see it: the count of cells of the last page says one less."""
    sound_rows(path, rows)
    data = bytearray(path.read_bytes())
    pages = range(PAGE, len(data), PAGE)
    leaf = max((at for at in pages if data[at] == 13), key=lambda at: _last_rowid(data, at))
    (cells,) = struct.unpack_from(">H", data, leaf + 3)
    struct.pack_into(">H", data, leaf + 3, cells - 1)
    path.write_bytes(bytes(data))
    with Book.open(path, clock, read_only=True) as book:
        read = []
        with pytest.raises(DamagedBook):
            read.extend(book.rows())
    with pytest.raises(DamagedBook):
        count(path, read_only=False)


def _last_rowid(data: bytearray, leaf: int) -> int:
    """The row number in the last cell of a table's leaf; one byte is enough for 127 rows."""
    (cells,) = struct.unpack_from(">H", data, leaf + 3)
    (cell,) = struct.unpack_from(">H", data, leaf + 8 + 2 * (cells - 1))
    size = 1 if data[leaf + cell] < 128 else 2
    return data[leaf + cell + size]


def test_a_book_whose_past_was_changed_is_not_added_to(path: Path) -> None:
    sound_rows(path, 10)
    data = path.read_bytes()
    path.write_bytes(data.replace(b'"7/12"', b'"8/12"'))
    assert count(path) == 10
    with pytest.raises(DamagedBook, match="entry 8 was changed"):
        Book.open(path, clock)


@pytest.mark.parametrize("field", [name for name in Row._fields if name != "sequence"])
def test_a_change_of_any_field_is_named(path: Path, field: str) -> None:
    rows = sound_rows(path, 5)
    rows[2] = rows[2]._replace(**{field: "0" * 64})
    assert any(finding.startswith("entry 3") for finding in findings(rows))


@pytest.mark.parametrize(
    ("order", "found"),
    [
        ([1, 2, 3, 4], []),
        ([1, 3, 4], ["entry 2 is missing"]),
        ([1, 4], ["entries 2 to 3 are missing"]),
        ([2, 3], ["entry 1 is missing"]),
        ([1, 2, 2, 3], ["entry 2 stands out of order"]),
        ([1, 2, 1], ["entry 1 stands out of order"]),
    ],
)
def test_what_is_missing_or_out_of_order_is_named(path: Path, order: list[int], found: list[str]) -> None:
    rows = sound_rows(path, 4)
    assert list(findings(rows[number - 1] for number in order)) == found


def test_a_row_of_another_book_does_not_follow(path: Path, tmp_path: Path) -> None:
    rows = sound_rows(path, 3)
    with Book.open(tmp_path / "other", clock) as book:
        write(book, 3, start=7)
        other = list(book.rows())
    assert list(findings([rows[0], other[1], rows[2]])) == [
        "entry 2 does not follow the one before it",
        "entry 3 does not follow the one before it",
    ]
