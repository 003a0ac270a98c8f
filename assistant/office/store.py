"""Books to the office and back: append-only, the same again sends nothing, a cut is gone on from.

A book has one writer, so nothing is ever merged: the office holds a beginning of it, and is sent the rest. What comes
back is not believed: an entry is read from the text that its hash covers, and must follow on the one before.
"""

from __future__ import annotations

import time
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass
from importlib.resources import files
from typing import Any

import psycopg

from assistant.book.entries import FIRST_PREVIOUS, Row
from assistant.office.errors import AnotherHistory, Unreachable, Unreadable, told
from assistant.office.names import named
from assistant.office.texts import row_of, text_of
from assistant.office.upgrading import bring_over, put_aside

Connect = Callable[[], "psycopg.Connection[Any]"]

BATCH, LEAST_BATCH = 1000, 50
"""Entries a transaction: what a cut can cost to send again. Each cut halves it, for a line that holds no longer."""

TRIES = 8
"""Connections that may be lost one after the other, without an entry getting through, before it is given up."""

WAIT = 0.05
"""Seconds before the first new try; each time twice as long."""


@dataclass(frozen=True)
class BookInOffice:
    """A book that the office holds."""

    book: str
    crew: str
    name: str
    entries: int


@dataclass(frozen=True)
class LeftOut:
    """A book that came before the office proved what it is sent, and that does not prove."""

    crew: str
    name: str
    why: str


@dataclass(frozen=True)
class UnprovenReading:
    """A reading that was read from a set-up which did not check."""

    crew: str
    name: str
    sequence: int
    time: str
    reply: str


def connect(office: str) -> psycopg.Connection[Any]:
    """A connection to a PostgreSQL address, in which names mean PostgreSQL's own things. Raises `OfficeError`."""
    with told():
        connection = psycopg.connect(office, connect_timeout=10, application_name="rodside")
        with connection.transaction():
            connection.execute("SET search_path = pg_catalog, pg_temp")
        return connection


def prepare(connection: psycopg.Connection[Any]) -> None:
    """Make the tables, the rules and the roles, or bring them up to date. For the owner of the database.

    An office whose columns were believed is put aside into the schema `rodside_before`, readable as it was; the books
    in it that prove are brought over, `left_out` names the rest. All or nothing.
    """
    with told(), connection.transaction():
        before = put_aside(connection)
        connection.execute(files("assistant.office").joinpath("schema.sql").read_bytes())
        if put_aside(connection) and not before:
            bring_over(connection)


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
    """The books with an entry that may be seen from here."""
    query = (
        "SELECT b.book, b.crew::text, b.name, count(*) FROM rodside.books b JOIN rodside.entries e USING (crew, book) "
        "GROUP BY b.crew, b.book, b.name ORDER BY b.crew, b.name, b.book"
    )
    with told():
        return [BookInOffice(*row) for row in connection.execute(query)]


def left_out(connection: psycopg.Connection[Any]) -> list[LeftOut]:
    """The books that may be seen from here, that were not brought over, and were not sent again since."""
    query = (
        "SELECT l.crew::text, l.name, l.why FROM rodside.left_out l "
        "WHERE NOT EXISTS (SELECT FROM rodside.entries e WHERE e.crew = l.crew AND e.book = l.book) ORDER BY 1, 2, 3"
    )
    with told():
        return [LeftOut(*row) for row in connection.execute(query)]


def rows_of(connection: psycopg.Connection[Any], crew: str, book: str, last: Row | None = None) -> Iterator[Row]:
    """The entries of a book of a crew beyond `last`, or all, as they were written; each follows on the one before.

    Raises `Unreadable` at one that does not, or where the office does not hold `last`, and `OfficeError`.
    """
    query = "SELECT written FROM rodside.entries WHERE crew = %s AND book = %s AND sequence >= %s ORDER BY sequence"
    met = last is None
    with told(), connection.transaction(), connection.cursor(name="entries") as cursor:
        cursor.execute(query, (crew, book, last.sequence if last else 1))
        for (text,) in cursor:
            row = row_of(text)
            if not met and row != last:
                raise Unreadable(f"Its entry {row.sequence} is another than here.")
            if met and (row.sequence, row.previous) != (
                (last.sequence + 1, last.hash) if last else (1, FIRST_PREVIOUS)
            ):
                raise Unreadable(f"Its entry {row.sequence} does not follow the one before it.")
            if row.sequence == 1 and row.hash != book:
                raise Unreadable("Its first entry is that of another book.")
            if met:
                yield row
            met, last = True, row
    if not met:
        raise Unreadable("It has fewer entries than here.")


def unproven(connection: psycopg.Connection[Any], days: int) -> list[UnprovenReading]:
    """The unproven readings of so many last days, across all books that may be seen from here."""
    query = (
        "SELECT crew::text, name, sequence, to_char(time AT TIME ZONE 'UTC', 'YYYY-MM-DD HH24:MI:SS'), reply "
        "FROM rodside.unproven_readings WHERE time >= now() - make_interval(days => %s) "
        "ORDER BY crew, name, book, sequence"
    )
    with told():
        return [UnprovenReading(*row) for row in connection.execute(query, (days,))]


def _there(connection: psycopg.Connection[Any], rows: Sequence[Row], name: str) -> int:
    """How many entries the office has; they must be the same as ours."""
    book = rows[0].hash
    with told(), connection.transaction():
        connection.execute(
            "INSERT INTO rodside.books (book, name) VALUES (%s, %s) ON CONFLICT DO NOTHING", (book, named(name))
        )
        last = connection.execute(
            "SELECT sequence, hash FROM rodside.entries WHERE crew = current_user AND book = %s "
            "ORDER BY sequence DESC LIMIT 1",
            (book,),
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
    """Send entries, all or none. The hash that the office works out for the last one proves them all."""
    with told(), connection.transaction():
        head = connection.execute(
            "WITH sent AS (INSERT INTO rodside.entries (book, written) SELECT %s, unnest(%s::text[]) "
            "RETURNING sequence, hash) SELECT hash FROM sent ORDER BY sequence DESC LIMIT 1",
            (book, [text_of(row) for row in rows]),
        ).fetchone()
        if head != (rows[-1].hash,):
            raise AnotherHistory(f"Entry {rows[-1].sequence} of this book was changed: verify it.")
