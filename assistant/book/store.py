"""The book on disk: one SQLite table that only grows.

A write-ahead log and full synchronisation: when `append` returns, the rows are on the disk after a single flush, and
a process that dies in the middle leaves a log from which the next opening restores all that was answered. `settle`
moves the log into the book itself; it is called after each answer, so that the one file that a person copies is whole.
"""

from __future__ import annotations

import os
import sqlite3
from collections.abc import Callable, Iterator, Sequence
from contextlib import suppress
from datetime import UTC, datetime
from pathlib import Path
from types import TracebackType

from assistant.book.entries import FIRST_PREVIOUS, Entry, Row, canonical, chain_hash
from assistant.book.errors import (
    BookError,
    BookInUse,
    DamagedBook,
    DiskFull,
    NewerBook,
    NotABook,
    ReadOnlyBook,
)

try:
    import fcntl
except ImportError:  # not a POSIX system: SQLite's own locks must do
    fcntl = None  # type: ignore[assignment]

APPLICATION_ID = 0x526F6473
"""Marks an SQLite file as a book."""

FORMAT = 1
"""The version of the table below; a book of a higher one is only read."""

_TABLE = f"""
PRAGMA application_id = {APPLICATION_ID};
PRAGMA user_version = {FORMAT};
CREATE TABLE entries (
  sequence INTEGER PRIMARY KEY,
  time TEXT NOT NULL,
  kind TEXT NOT NULL,
  payload TEXT NOT NULL,
  heard TEXT,
  engine TEXT,
  audio TEXT,
  reply TEXT NOT NULL,
  previous TEXT NOT NULL,
  hash TEXT NOT NULL
) STRICT;
CREATE TRIGGER nothing_changes BEFORE UPDATE ON entries
  BEGIN SELECT RAISE(ABORT, 'a book is never changed'); END;
CREATE TRIGGER nothing_goes BEFORE DELETE ON entries
  BEGIN SELECT RAISE(ABORT, 'a book is never erased'); END;
CREATE TRIGGER nothing_is_replaced BEFORE INSERT ON entries
  WHEN NEW.sequence <> (SELECT coalesce(max(sequence), 0) + 1 FROM entries)
  BEGIN SELECT RAISE(ABORT, 'a book only grows'); END;
"""

_COLUMNS = "sequence, time, kind, payload, heard, engine, audio, reply, previous, hash"

Clock = Callable[[], datetime]


class Book:
    """A book that is open. One process at a time writes in it; others may read."""

    def __init__(self, connection: sqlite3.Connection, name: str, clock: Clock, lock: int | None):
        self._connection = connection
        self._name = name
        self._clock = clock
        self._lock = lock

    @classmethod
    def scratch(cls, clock: Clock) -> Book:
        """A book in memory, gone when closed."""
        connection = sqlite3.connect(":memory:", isolation_level=None)
        connection.executescript(_TABLE)
        return cls(connection, "scratch", clock, None)

    @classmethod
    def open(cls, path: Path, clock: Clock, *, read_only: bool = False) -> Book:
        """Open the book at `path`; to write, make it if nothing is there. Raises `BookError`."""
        _check_place(path, read_only=read_only)
        new = not path.exists()
        if not new:
            _check_header(path, read_only=read_only)
        lock = None if read_only else _locked(path)
        try:
            connection = _connected(path, read_only=read_only)
            if new or _is_empty(path):
                connection.executescript(f"BEGIN IMMEDIATE;{_TABLE}COMMIT;")
            if not read_only:
                connection.execute("PRAGMA journal_mode = WAL")
            connection.execute("SELECT max(sequence) FROM entries").fetchone()
        except sqlite3.Error as trouble:
            if lock is not None:
                os.close(lock)
            raise _told(trouble, str(path)) from trouble
        return cls(connection, str(path), clock, lock)

    def append(
        self,
        entries: Sequence[Entry],
        *,
        heard: str | None,
        engine: str | None,
        audio: str | None,
        reply: str,
    ) -> tuple[Row, ...]:
        """Write entries, all or none; they are on the disk when this returns. Raises `BookError`."""
        try:
            self._connection.execute("BEGIN IMMEDIATE")
            rows = tuple(self._insert(entry, heard, engine, audio, reply) for entry in entries)
            self._connection.execute("COMMIT")
        except sqlite3.Error as trouble:
            with suppress(sqlite3.Error):
                self._connection.execute("ROLLBACK")
            raise _told(trouble, self._name) from trouble
        return rows

    def rows(self, after: int = 0) -> Iterator[Row]:
        """Every row beyond number `after`, in order. Raises `BookError`."""
        try:
            found = self._connection.execute(
                f"SELECT {_COLUMNS} FROM entries WHERE sequence > ? ORDER BY sequence", (after,)
            )
            for row in map(Row._make, found):
                yield _whole(row)
        except (sqlite3.Error, ValueError, TypeError) as trouble:
            raise _told(trouble, self._name) from trouble

    def settle(self) -> None:
        """Move what is in the log into the book itself. It is safe on the disk before, too."""
        with suppress(sqlite3.Error):
            self._connection.execute("PRAGMA wal_checkpoint(TRUNCATE)")

    def close(self) -> None:
        """Let go of the file. The lock goes last, since closing it would also free SQLite's own."""
        self._connection.close()
        if self._lock is not None:
            os.close(self._lock)
            self._lock = None

    def __enter__(self) -> Book:
        return self

    def __exit__(
        self,
        kind: type[BaseException] | None,
        error: BaseException | None,
        trace: TracebackType | None,
    ) -> None:
        self.close()

    def _insert(self, entry: Entry, heard: str | None, engine: str | None, audio: str | None, reply: str) -> Row:
        last = self._connection.execute("SELECT sequence, hash FROM entries ORDER BY sequence DESC LIMIT 1").fetchone()
        sequence, previous = (last[0] + 1, last[1]) if last else (1, FIRST_PREVIOUS)
        time = self._clock().astimezone(UTC).strftime("%Y-%m-%dT%H:%M:%S.%fZ")
        payload = canonical(entry.payload)
        fields = (sequence, time, entry.kind, payload, heard, engine, audio, reply, previous)
        row = (*fields, chain_hash(*fields))
        marks = ", ".join("?" * len(row))
        self._connection.execute(f"INSERT INTO entries ({_COLUMNS}) VALUES ({marks})", row)
        return Row._make(row)


def _whole(row: Row) -> Row:
    """Raises `TypeError` where damage left no text."""
    if not isinstance(row.payload_text, str):
        raise TypeError("an entry without a payload")
    return row


def _check_place(path: Path, *, read_only: bool) -> None:
    if path.is_dir():
        raise NotABook(f"{path} is a folder, not a book; name a file in it.")
    if not path.parent.is_dir():
        raise NotABook(f"There is no folder {path.parent}; make it first, or name another.")
    if read_only and not path.exists():
        raise NotABook(f"There is no book {path}.")


def _is_empty(path: Path) -> bool:
    return path.stat().st_size == 0


def _check_header(path: Path, *, read_only: bool) -> None:
    """Look at the file before SQLite does, so that no other file is ever touched."""
    try:
        with path.open("rb") as file:
            header = file.read(100)
    except OSError as trouble:
        raise ReadOnlyBook(f"{path} cannot be read: {trouble.strerror}.") from trouble
    if not header and not read_only and _made_by_a_process_that_died(path):
        return
    mark = int.from_bytes(header[68:72], "big")
    if header[:16] != b"SQLite format 3\0" or mark != APPLICATION_ID:
        raise NotABook(f"{path} is not a book of Rodside; name another file.")
    page_size, pages = int.from_bytes(header[16:18], "big"), int.from_bytes(header[28:32], "big")
    if path.stat().st_size < pages * (page_size if page_size > 1 else 65536):
        raise DamagedBook(f"{path} is cut off; keep it, and go on in a new book.")
    version = int.from_bytes(header[60:64], "big")
    if version > FORMAT and not read_only:
        raise NewerBook(f"{path} was written by a newer version; it can be shown and exported, but not added to.")


def _made_by_a_process_that_died(path: Path) -> bool:
    """A book whose making was cut off is an empty file with a journal beside it."""
    return Path(f"{path}-journal").exists()


def _locked(path: Path) -> int | None:
    if fcntl is None:
        return None
    try:
        lock = os.open(path, os.O_RDWR | os.O_CREAT, 0o644)
    except OSError as trouble:
        raise ReadOnlyBook(f"{path} cannot be written: {trouble.strerror}; choose another place.") from trouble
    try:
        fcntl.flock(lock, fcntl.LOCK_EX | fcntl.LOCK_NB)
    except OSError as taken:
        os.close(lock)
        raise BookInUse(f"{path} is being written by another Rodside; stop that one, or name another book.") from taken
    return lock


def _connected(path: Path, *, read_only: bool) -> sqlite3.Connection:
    writable = os.access(path, os.W_OK) and os.access(path.parent, os.W_OK)
    mode = "rwc" if not read_only else "rw" if writable else "ro"
    # Where nothing can be written there is no log either, and SQLite must not try to make its index.
    still = "&immutable=1" if mode == "ro" and not Path(f"{path}-wal").exists() else ""
    uri = f"{path.resolve().as_uri()}?mode={mode}{still}"
    connection = sqlite3.connect(uri, uri=True, isolation_level=None, timeout=2)
    connection.execute("PRAGMA synchronous = FULL")
    if read_only:
        connection.execute("PRAGMA query_only = ON")
    return connection


def _told(trouble: Exception, name: str) -> BookError:
    text = str(trouble)
    if "full" in text:
        return DiskFull("The disk is full: make room, then say it again.")
    if "readonly" in text or "unable to open" in text:
        return ReadOnlyBook(f"{name} cannot be written; choose another place.")
    if "locked" in text:
        return BookInUse(f"{name} is being written by another program; try again.")
    if "disk I/O" in text:
        return BookError(f"The disk that holds {name} does not answer; check it, then say it again.")
    return DamagedBook(f"{name} is damaged ({text}); keep it, and go on in a new book.")
