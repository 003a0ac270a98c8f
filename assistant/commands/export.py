"""`rodside export`: a book as CSV or JSON lines, losing nothing; its points and profiles as LandXML."""

from __future__ import annotations

import argparse
from collections.abc import Callable, Iterable
from io import StringIO
from pathlib import Path
from typing import TextIO

from assistant.book.entries import Row
from assistant.book.export import to_csv, to_jsonl
from assistant.commands.opening import read_book, replace, shown
from assistant.environment import Environment, ExitStatus

Writer = Callable[[Iterable[Row], TextIO], None]

ENDINGS = {".csv": "csv", ".jsonl": "jsonl", ".ndjson": "jsonl", ".xml": "landxml"}


def run(options: argparse.Namespace, world: Environment) -> ExitStatus:
    """Write the whole book to a file, which is there whole or as it was, or to standard output."""
    output: Path | None = options.output
    wanted = options.format or (ENDINGS.get(output.suffix, "csv") if output is not None else "csv")
    with read_book(options.book, world) as book, shown(options.book, book.rows):
        if output is None and not world.stdout.isatty():
            _writer(wanted, options.book.stem)(book.rows(), world.stdout)
            return ExitStatus.OK
        stream = StringIO(newline="")
        _writer(wanted, options.book.stem)(book.rows(), stream)
    if output is None:
        world.say(stream.getvalue().replace("\r\n", "\n").rstrip("\n"))
        return ExitStatus.OK
    replace(output, stream.getvalue().encode("utf-8"))
    return ExitStatus.OK


def _writer(wanted: str, name: str) -> Writer:
    if wanted == "landxml":
        from assistant.report.landxml import to_landxml

        return lambda rows, stream: print(to_landxml(rows, name), file=stream)
    return {"csv": to_csv, "jsonl": to_jsonl}[wanted]
