"""An office of before, whose columns were believed: what proves is brought over, the rest is named and stays aside."""

from __future__ import annotations

from typing import Any

import psycopg

from assistant.book.export import from_jsonl
from assistant.book.verify import findings
from assistant.environment import Trouble
from assistant.office.errors import Unreadable, first_line
from assistant.office.names import named
from assistant.office.texts import text_of


def put_aside(connection: psycopg.Connection[Any]) -> bool:
    """Whether an office of before was put aside."""
    found = connection.execute("SELECT to_regclass('rodside_before.books') IS NOT NULL").fetchone()
    return found is not None and bool(found[0])


def bring_over(connection: psycopg.Connection[Any]) -> None:
    """Bring each book that was put aside through the rules that hold now, whole or not at all."""
    for crew, book, name in connection.execute("SELECT crew, book, name FROM rodside_before.books").fetchall():
        try:
            with connection.transaction():
                _bring(connection, crew, book, name)
        except (Trouble, ValueError, psycopg.DataError, psycopg.IntegrityError) as trouble:
            connection.execute(
                "INSERT INTO rodside.left_out (crew, book, name, why) VALUES (%s, %s, %s, %s)",
                (crew, book, name, first_line(trouble)),
            )


def _bring(connection: psycopg.Connection[Any], crew: str, book: str, name: str) -> None:
    query = "SELECT written FROM rodside_before.entries WHERE book = %s ORDER BY sequence"
    rows = list(from_jsonl(text for (text,) in connection.execute(query, (book,))))
    if not rows:
        return
    for finding in findings(rows):
        raise Unreadable(finding)
    connection.execute("INSERT INTO rodside.books (crew, book, name) VALUES (%s, %s, %s)", (crew, book, named(name)))
    connection.execute(
        "INSERT INTO rodside.entries (crew, book, written) SELECT %s, %s, unnest(%s::text[])",
        (crew, book, [text_of(row) for row in rows]),
    )
