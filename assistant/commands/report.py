"""`rodside report`: a job on one page, from its book alone."""

from __future__ import annotations

import argparse
from pathlib import Path

from assistant.commands.opening import read_book, replace, understood
from assistant.environment import Environment, ExitStatus, Trouble, visible


class NoReport(Trouble):
    """What draws or prints a report is not installed."""


def run(options: argparse.Namespace, world: Environment) -> ExitStatus:
    """Write the page as HTML or PDF, by the ending of the file."""
    output: Path = options.output or options.book.with_suffix(".html")
    if output.suffix not in (".html", ".htm", ".pdf"):
        world.warn(f"rodside: {output} must end in .html or .pdf.")
        return ExitStatus.USAGE
    with read_book(options.book, world) as book:
        rows = list(book.rows())
    try:
        from assistant.report import page

        with understood(options.book):
            text = page.html(rows, visible(options.title or options.book.stem), options.paper)
        content = page.pdf(text) if output.suffix == ".pdf" else text.encode("utf-8")
    except ImportError as missing:
        raise NoReport(f"Reports need {missing.name}: pip install 'rodside[report]'.") from missing
    except OSError as missing:
        raise NoReport("PDF needs the Pango library: apt-get install libpangoft2-1.0-0; .html needs none.") from missing
    replace(output, content)
    world.say(f"The report is {output}.")
    return ExitStatus.OK
