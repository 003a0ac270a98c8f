"""`rodside book`: a book as a table; in a terminal with a profile, and following what is written."""

from __future__ import annotations

import argparse
import time
from collections.abc import Iterator

from rich.console import Console
from rich.live import Live

from assistant.book.entries import Row
from assistant.book.store import Book
from assistant.commands.opening import read_book, shown
from assistant.environment import Environment, ExitStatus
from assistant.report.ledger import all_lines, last_lines, lines, print_long, print_table

MOST = 500
"""Entries of a book up to which all of it is shown: about ten screens."""

EVERY = 0.5
"""Seconds between two looks into the book."""


def run(options: argparse.Namespace, world: Environment) -> ExitStatus:
    """Print the table, or follow the book until stopped from the keyboard."""
    terminal = world.stdout.isatty()
    with read_book(options.book, world) as book, shown(options.book, book.rows):
        if options.follow or (terminal and not options.once):
            _follow(book, world, terminal=terminal)
        else:
            _print(book, world, whole=options.all)
    return ExitStatus.OK


def _print(book: Book, world: Environment, *, whole: bool) -> None:
    entries, _ = book.head()
    if entries <= MOST:
        print_table(lines(book.rows()), world.stdout)
    elif whole:
        print_long(all_lines(book), world.stdout)
    else:
        world.warn(f"rodside: the last {MOST} of {entries:,} entries; --all shows every one.")
        print_table(last_lines(book, MOST), world.stdout)


def _follow(book: Book, world: Environment, *, terminal: bool) -> None:
    every: list[Row] = []
    if not terminal:
        for rows in _arriving(book):
            every += rows
            for line in lines(every):
                if line.sequence >= rows[0].sequence:
                    world.say("\t".join(line.cells()))
        return
    from assistant.report.live import view

    console = Console(file=world.stdout, markup=False, emoji=False)
    with Live(console=console, screen=True, auto_refresh=False) as live:
        for rows in _arriving(book):
            every += rows
            live.update(view(every, console.width, console.height), refresh=True)


def _arriving(book: Book) -> Iterator[list[Row]]:
    """What is in the book, and then what comes, as it comes."""
    last = 0
    while True:
        rows = list(book.rows(after=last))
        if rows:
            yield rows
            last = rows[-1].sequence
        time.sleep(EVERY)
