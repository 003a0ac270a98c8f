"""Whether the file of a book is, byte for byte, what its entries make of it.

SQLite lays out a table that only grows in one way only, so the same entries make the same file, its empty places
included. What differs is left out or looked at on its own: the two marks of a write-ahead log, the count of changes,
which stands in two places, and the version of SQLite that wrote last.
"""

from __future__ import annotations

import sqlite3
from collections.abc import Iterable, Iterator
from pathlib import Path

from assistant.book.entries import Row
from assistant.book.table import file_of

_LOG_MARKS = slice(18, 20)
_CHANGES = slice(24, 28)
_CHANGES_AGAIN = slice(92, 96)
_VERSION = slice(96, 100)
_OWN = (_LOG_MARKS, _CHANGES, _CHANGES_AGAIN, _VERSION)
_MARKS = (b"\1\1", b"\2\2")


def findings(path: Path, rows: Iterable[Row]) -> Iterator[str]:
    """Where the file differs from what sound rows make of it."""
    there, right = bytearray(path.read_bytes()), bytearray(file_of(rows))
    if len(there) != len(right):
        yield f"the file has {len(there)} bytes and not {len(right)}, as its entries make it"
        return
    if bytes(there[_LOG_MARKS]) not in _MARKS or there[_CHANGES] != there[_CHANGES_AGAIN]:
        yield "the header of the file was changed; no entry was"
    for place in _OWN:
        there[place] = right[place]
    if there != right:
        at = next(number for number, (one, other) in enumerate(zip(there, right, strict=True)) if one != other)
        yield f"byte {at} of the file was changed; no entry was"


def remark(path: Path) -> str | None:
    """A word where another version of SQLite wrote last: its number can be checked by nothing else.

    It is zero until the file has grown for the first time.
    """
    with path.open("rb") as stream:
        wrote = int.from_bytes(stream.read(100)[_VERSION], "big")
    major, rest = divmod(wrote, 1_000_000)
    written_by = f"{major}.{rest // 1000}.{rest % 1000}"
    return None if wrote == 0 or written_by == sqlite3.sqlite_version else f"last written by SQLite {written_by}"
