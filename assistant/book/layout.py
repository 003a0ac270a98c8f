"""Whether the file of a book is, byte for byte, what its entries make of it.

SQLite lays out a table that only grows in one way only, so the same entries make the same file, its empty places
included. What differs is left out or looked at on its own: the two marks of a write-ahead log, the count of changes,
which stands in two places, and the version of SQLite that wrote last. The file is made again on the disk and compared
block by block: a long book is never held in memory.
"""

from __future__ import annotations

import sqlite3
from collections.abc import Iterator
from contextlib import ExitStack, closing
from pathlib import Path
from tempfile import TemporaryDirectory
from types import TracebackType
from typing import BinaryIO

from assistant.book.entries import Row
from assistant.book.table import insert, unsafely

BLOCK = 1 << 16
"""Bytes that are compared at a time."""

_LOG_MARKS = slice(18, 20)
_CHANGES = slice(24, 28)
_CHANGES_AGAIN = slice(92, 96)
_VERSION = slice(96, 100)
_OWN = (_LOG_MARKS, _CHANGES, _CHANGES_AGAIN, _VERSION)
_MARKS = (b"\1\1", b"\2\2")


class Rebuilt:
    """The file that sound rows make when they are written one after the other, in a folder that goes with it."""

    def __init__(self) -> None:
        self._open = ExitStack()
        self._trouble: Exception | None = None
        try:
            self._path = Path(self._open.enter_context(TemporaryDirectory(prefix="rodside-"))) / "book"
            self._connection = self._open.enter_context(closing(unsafely(self._path)))
        except (sqlite3.Error, OSError) as trouble:
            self._trouble = trouble

    def __enter__(self) -> Rebuilt:
        return self

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        self._open.close()

    def add(self, row: Row) -> None:
        """Write one more row, if there is room."""
        if self._trouble is None:
            try:
                insert(self._connection, row)
            except sqlite3.Error as trouble:
                self._trouble = trouble

    def findings(self, path: Path) -> Iterator[str]:
        """Where the file at `path` differs from this one."""
        try:
            if self._trouble is None:
                self._connection.execute("COMMIT")
        except sqlite3.Error as trouble:
            self._trouble = trouble
        if self._trouble is None:
            yield from _differences(path, self._path)
        else:
            yield f"the bytes of the file were not compared: there is no place to make it again ({self._trouble})"


def _differences(path: Path, right_path: Path) -> Iterator[str]:
    there, right = path.stat().st_size, right_path.stat().st_size
    if there != right:
        yield f"the file has {there} bytes and not {right}, as its entries make it"
        return
    with path.open("rb") as one, right_path.open("rb") as other:
        for at, (block, wanted) in enumerate(zip(_blocks(one), _blocks(other), strict=True)):
            if at == 0:
                if bytes(block[_LOG_MARKS]) not in _MARKS or block[_CHANGES] != block[_CHANGES_AGAIN]:
                    yield "the header of the file was changed; no entry was"
                for place in _OWN:
                    block[place] = wanted[place]
            if block != wanted:
                first = next(n for n, (a, b) in enumerate(zip(block, wanted, strict=True)) if a != b)
                yield f"byte {at * BLOCK + first} of the file was changed; no entry was"
                return


def _blocks(stream: BinaryIO) -> Iterator[bytearray]:
    while block := bytearray(stream.read(BLOCK)):
        yield block


def remark(path: Path) -> str | None:
    """A word where another version of SQLite wrote last: its number can be checked by nothing else.

    It is zero until the file has grown for the first time.
    """
    with path.open("rb") as stream:
        wrote = int.from_bytes(stream.read(100)[_VERSION], "big")
    major, rest = divmod(wrote, 1_000_000)
    written_by = f"{major}.{rest // 1000}.{rest % 1000}"
    return None if wrote == 0 or written_by == sqlite3.sqlite_version else f"last written by SQLite {written_by}"
