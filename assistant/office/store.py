"""Books to the office and back: append-only, the same again sends nothing, a cut is gone on from.

A book has one writer, so nothing is ever merged: the office holds a beginning of it, and is sent the rest.
"""

from __future__ import annotations

import json
import time
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass
from importlib.resources import files
from io import StringIO
from typing import Any

import psycopg
from psycopg.types.json import Jsonb

from assistant.book.entries import Row
from assistant.book.export import from_jsonl, to_jsonl
from assistant.office.errors import AnotherHistory, Unreachable, told

Connect = Callable[[], "psycopg.Connection[Any]"]

BATCH, LEAST_BATCH = 1000, 50
"""Entries a transaction: what a cut can cost to send again. Each cut halves it, for a line that holds no longer."""

TRIES = 8
"""Connections that may be lost one after the other, without an entry getting through, before it is given up."""

WAIT = 0.05
"""Seconds before the first new try; each time twice as long."""

_COLUMNS = "book, sequence, time, kind, payload, reply, previous, hash, written"


@dataclass(frozen=True)
class BookInOffice:
    """A book that the office holds."""

    book: str
    crew: str
    name: str
    entries: int


@dataclass(frozen=True)
class UnprovenReading:
    """A reading that was read from a set-up which did not check."""

    crew: str
    name: str
    sequence: int
    time: str
    reply: str


def connect(office: str) -> psycopg.Connection[Any]:
    """A connection to a PostgreSQL address. Raises `OfficeError`."""
    with told():
        return psycopg.connect(office, connect_timeout=10, application_name="rodside")


def prepare(connection: psycopg.Connection[Any]) -> None:
    """Make the tables, the rules and the roles; what is there stays. For the owner of the database."""
    with told(), connection.transaction():
        connection.execute(files("assistant.office").joinpath("schema.sql").read_bytes())


def push(rows: Sequence[Row], name: str, open_: Connect, *, wait: float = WAIT) -> int:
    """Send what the office does not have yet of a book; how many entries. Raises `OfficeError`.

    A lost connection is opened again, and sending goes on from what is there.
    """
    if not rows:
        return 0
    tries, begun, there, size = 0, None, 0, BATCH
    while True:
        try:
            with open_() as connection:
                there = _there(connection, rows, name)
                begun = there if begun is None else begun
                while there < len(rows):
                    batch = rows[there : there + size]
                    _send(connection, rows[0].hash, batch)
                    there, tries = there + len(batch), 0
            return len(rows) - begun
        except Unreachable:
            tries, size = tries + 1, max(LEAST_BATCH, size // 2)
            if tries >= TRIES:
                raise
            time.sleep(wait * 2**tries)


def books(connection: psycopg.Connection[Any]) -> list[BookInOffice]:
    """The books that may be seen from here."""
    query = (
        "SELECT b.book, b.crew, b.name, count(e.sequence) "
        "FROM rodside.books b LEFT JOIN rodside.entries e USING (book) GROUP BY b.book ORDER BY b.crew, b.name, b.book"
    )
    with told():
        return [BookInOffice(*row) for row in connection.execute(query)]


def rows_of(connection: psycopg.Connection[Any], book: str, after: int = 0) -> Iterator[Row]:
    """The entries of a book beyond number `after`, as they were written. Raises `OfficeError`."""
    query = "SELECT written FROM rodside.entries WHERE book = %s AND sequence > %s ORDER BY sequence"
    with told(), connection.cursor(name="entries") as cursor:
        cursor.execute(query, (book, after))
        yield from from_jsonl(text for (text,) in cursor)


def unproven(connection: psycopg.Connection[Any], days: int) -> list[UnprovenReading]:
    """The unproven readings of so many last days, across all books that may be seen from here."""
    query = (
        "SELECT crew, name, sequence, to_char(time AT TIME ZONE 'UTC', 'YYYY-MM-DD HH24:MI:SS'), reply "
        "FROM rodside.unproven_readings WHERE time >= now() - make_interval(days => %s) ORDER BY crew, name, sequence"
    )
    with told():
        return [UnprovenReading(*row) for row in connection.execute(query, (days,))]


def _there(connection: psycopg.Connection[Any], rows: Sequence[Row], name: str) -> int:
    """How many entries the office has; they must be the same as ours."""
    book = rows[0].hash
    with told(), connection.transaction():
        connection.execute(
            "INSERT INTO rodside.books (book, name) VALUES (%s, %s) ON CONFLICT DO NOTHING", (book, _plain(name))
        )
        last = connection.execute(
            "SELECT sequence, hash FROM rodside.entries WHERE book = %s ORDER BY sequence DESC LIMIT 1", (book,)
        ).fetchone()
    if last is None:
        return 0
    sequence, head = last
    if sequence > len(rows):
        raise AnotherHistory(f"The office has {sequence} entries of this book, here are {len(rows)}: pull it first.")
    if rows[sequence - 1].hash != head:
        raise AnotherHistory(f"The office has another entry {sequence} than this book: verify both.")
    return int(sequence)


def _send(connection: psycopg.Connection[Any], book: str, rows: Sequence[Row]) -> None:
    columns: dict[str, list[Any]] = {
        "bigint": [row.sequence for row in rows],
        "timestamptz": [row.time for row in rows],
        "text": [_plain(row.kind) for row in rows],
        "jsonb": [Jsonb(_sanitised(row.payload)) for row in rows],
    }
    texts = ([_plain(row.reply) for row in rows], [row.previous for row in rows], [row.hash for row in rows])
    marks = ", ".join(f"%s::{kind}[]" for kind in (*columns, *["text"] * 4))
    with told(), connection.transaction():
        connection.execute(
            f"INSERT INTO rodside.entries ({_COLUMNS}) "
            f"SELECT %s, * FROM unnest({marks}) AS u(sequence) ORDER BY sequence",
            (book, *columns.values(), *texts, [_line(row) for row in rows]),
        )


def _line(row: Row) -> str:
    stream = StringIO()
    to_jsonl([row], stream)
    return stream.getvalue().rstrip("\n")


def _plain(text: str) -> str:
    """Text as PostgreSQL takes it, which knows no character zero and no half characters."""
    return text.replace("\0", "\ufffd").encode("utf-8", "replace").decode("utf-8")


def _sanitised(payload: Any) -> Any:
    return json.loads(_plain(json.dumps(payload, ensure_ascii=False, default=dict)).replace("\\u0000", "\\ufffd"))
