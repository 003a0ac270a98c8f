"""`rodside export`: a book as CSV or JSON lines, losing nothing."""

from __future__ import annotations

import argparse
from pathlib import Path

from assistant.book.errors import BookError
from assistant.book.export import to_csv, to_jsonl
from assistant.book.store import Book
from assistant.environment import Environment, ExitStatus

WRITERS = {"csv": to_csv, "jsonl": to_jsonl}


def run(options: argparse.Namespace, world: Environment) -> ExitStatus:
    """Write the whole book to a file or to standard output."""
    write = WRITERS[options.format or _by_ending(options.output)]
    with Book.open(options.book, world.clock, read_only=True) as book:
        if options.output is None:
            write(book.rows(), world.stdout)
            return ExitStatus.OK
        try:
            with options.output.open("w", encoding="utf-8", newline="") as stream:
                write(book.rows(), stream)
        except OSError as trouble:
            raise BookError(f"{options.output} cannot be written: {trouble.strerror}.") from trouble
    return ExitStatus.OK


def _by_ending(output: Path | None) -> str:
    return "jsonl" if output is not None and output.suffix in (".jsonl", ".ndjson") else "csv"
