"""The one table of a book: its rules, its file, and how that is opened."""

from __future__ import annotations

import os
import sqlite3
from functools import cache
from pathlib import Path

from assistant.book.entries import Row
from assistant.book.errors import ReadOnlyBook, kind_of
from assistant.book.file import APPLICATION_ID, FORMAT

TABLE = f"""
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

COLUMNS = "sequence, time, kind, payload, heard, engine, audio, reply, previous, hash"
MARKS = ", ".join("?" * len(Row._fields))


MOST_BYTES = 10_000_000
"""Of one row: a file that says it has more is not read into memory."""


def in_memory() -> sqlite3.Connection:
    """A book without an entry that is on no disk."""
    connection = sqlite3.connect(":memory:", isolation_level=None)
    connection.executescript(TABLE)
    return connection


@cache
def new_file() -> bytes:
    """The bytes of a book without an entry, marked in its header as one with a write-ahead log."""
    content = bytearray(in_memory().serialize())
    content[18:20] = b"\2\2"
    return bytes(content)


def unsafely(path: Path) -> sqlite3.Connection:
    """A new book at `path` for rows that are put in at once and then committed: a crash would leave half of it."""
    path.write_bytes(in_memory().serialize())
    connection = sqlite3.connect(path, isolation_level=None)
    for setting in ("journal_mode = OFF", "synchronous = OFF"):
        connection.execute(f"PRAGMA {setting}")
    connection.execute("BEGIN")
    return connection


def insert(connection: sqlite3.Connection, row: Row) -> None:
    """Put a row in."""
    connection.execute(f"INSERT INTO entries ({COLUMNS}) VALUES ({MARKS})", row)


def is_as_made(connection: sqlite3.Connection) -> bool:
    """Whether a file has the table and the rules of a book, to the letter, and nothing else.

    A view could stand in the place of the table, and one rule more could have an entry passed over.
    """
    return _made_of(connection) == _made_of(in_memory())


def _made_of(connection: sqlite3.Connection) -> list[tuple[object, ...]]:
    return connection.execute("SELECT type, name, tbl_name, sql FROM sqlite_schema ORDER BY rowid LIMIT 99").fetchall()


def is_plain(connection: sqlite3.Connection) -> bool:
    """Whether all in a file are tables that only hold what was written: what a newer version may have made.

    Views, tables that a module makes up, and columns that are worked out are asked for nothing.
    """
    kinds = {kind for _, _, kind, *_ in connection.execute("PRAGMA main.table_list")}
    hidden = {column[6] for column in connection.execute("PRAGMA main.table_xinfo(entries)")}
    return kinds == {"table"} and hidden <= {0}


def has_log(path: Path) -> bool:
    """Whether a log with something in it lies beside the book."""
    log = Path(f"{path}-wal")
    return log.exists() and log.stat().st_size > 0


def connected(path: Path, *, read_only: bool) -> sqlite3.Connection:
    """The book's file, opened as far as it may be. Raises `ReadOnlyBook`, or what SQLite raises."""
    writable_place = os.access(path, os.W_OK) and os.access(path.parent, os.W_OK)
    mode = "rw" if not read_only or writable_place else "ro"
    # Where nothing can be written, SQLite must not try to make the index that goes with a log.
    still = mode == "ro" and not has_log(path)
    uri = f"{path.as_uri()}?mode={mode}{'&immutable=1' if still else ''}"
    connection = sqlite3.connect(uri, uri=True, isolation_level=None, timeout=2)
    try:
        connection.execute("PRAGMA trusted_schema = OFF")
        connection.execute("PRAGMA cell_size_check = ON")
        connection.setlimit(sqlite3.SQLITE_LIMIT_LENGTH, MOST_BYTES)
        connection.execute("SELECT * FROM sqlite_schema").fetchone()
    except sqlite3.OperationalError as trouble:
        connection.close()
        if read_only and kind_of(trouble) == sqlite3.SQLITE_CANTOPEN:
            raise ReadOnlyBook(
                f"{path} has a log beside it that cannot be read where nothing can be written; "
                f"copy it with {path.name}-wal to another place."
            ) from trouble
        raise
    except BaseException:
        connection.close()
        raise
    return connection
