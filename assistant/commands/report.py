"""`rodside report`: a job on one page, from its book alone."""

from __future__ import annotations

import argparse
from collections.abc import Iterable, Iterator
from pathlib import Path
from zlib import compress, decompress

from assistant.book.entries import Row
from assistant.commands.opening import read_book, replace, shown
from assistant.environment import Environment, ExitStatus, Trouble, visible

LONG = 10_000
"""Entries of a book whose report takes so long that a person wonders. Our own choice."""


class NoReport(Trouble):
    """What draws or prints a report is not installed."""


def run(options: argparse.Namespace, world: Environment) -> ExitStatus:
    """Write the page as HTML or PDF, by the ending of the file."""
    output: Path = options.output or options.book.with_suffix(".html")
    if output.suffix not in (".html", ".htm", ".pdf"):
        world.warn(f"rodside: {output} must end in .html or .pdf.")
        return ExitStatus.USAGE
    try:
        from assistant.report import page
        from assistant.report.contents import told

        with read_book(options.book, world) as book, shown(options.book, book.rows):
            last = max((row.sequence for row in book.rows()), default=0)  # reading all of it proves the file whole

            def rows(*kinds: str) -> Iterator[Row]:
                return book.rows_of_kinds(kinds, last) if kinds else book.rows(until=last)

            report = told(rows, visible(options.title or options.book.stem))
            bodies = list(_packed(page.bodies(report), report.entries, world))
        names = [output.name, *(f"{output.stem}-{number}{output.suffix}" for number in range(2, len(bodies) + 1))]
        for number, name in enumerate(names):
            text = page.framed(report, decompress(bodies[number]).decode(), options.paper, names, number)
            replace(output.with_name(name), page.pdf(text) if output.suffix == ".pdf" else text.encode("utf-8"))
    except ImportError as missing:
        raise NoReport(f"Reports need {missing.name}: pip install 'rodside[report]'.") from missing
    except OSError as missing:
        raise NoReport("PDF needs the Pango library: apt-get install libpangoft2-1.0-0; .html needs none.") from missing
    if len(names) > 1:
        world.say(f"The job is long: the report has {len(names)} pages, and goes on in {names[1]} to {names[-1]}.")
    world.say(f"The report is {output}.")
    return ExitStatus.OK


def _packed(bodies: Iterable[str], entries: int, world: Environment) -> Iterator[bytes]:
    """What the pages hold, small until the number of them is known; of long work the progress is told."""
    if entries > LONG:
        world.warn(f"rodside: a report of {entries:,} entries takes a while.")
    for number, body in enumerate(bodies, 1):
        if entries > LONG:
            world.warn(f"rodside: page {number} is drawn.")
        yield compress(body.encode("utf-8"), 1)
