"""`rodside push`: books to the office."""

from __future__ import annotations

import argparse

from assistant.commands.opening import office, read_book
from assistant.environment import Environment, ExitStatus


def run(options: argparse.Namespace, world: Environment) -> ExitStatus:
    """Send what the office does not have yet of each book."""
    store = office()
    if options.prepare:
        with store.connect(options.office) as connection:
            store.prepare(connection)
        world.say("The office is ready. A crew is a role that is a member of rodside_crew.")
    for path in options.book:
        with read_book(path, world) as book:
            rows = list(book.rows())
        sent = store.push(rows, path.stem, lambda: store.connect(options.office))
        world.say(f"{path}: {sent} of {len(rows)} entries sent." if sent else f"{path}: the office has it all.")
    return ExitStatus.OK
