"""`rodside book`: a book as a table."""

from __future__ import annotations

import argparse

from assistant.book.store import Book
from assistant.environment import Environment, ExitStatus
from assistant.ledger import print_table


def run(options: argparse.Namespace, world: Environment) -> ExitStatus:
    """Print the table."""
    with Book.open(options.book, world.clock, read_only=True) as book:
        print_table(book.rows(), world.stdout)
    return ExitStatus.OK
