"""`rodside demo`: a short drain, heard from bundled recordings, answered and booked."""

from __future__ import annotations

import argparse
from importlib.resources import as_file, files

from assistant.book.store import Book
from assistant.commands.ask import tell
from assistant.environment import Environment, ExitStatus
from assistant.hearing.ears import open_ear
from assistant.hearing.sources import blocks
from assistant.report.ledger import lines, print_table
from assistant.speaking.mouth import Mouth
from assistant.talk.listening import listen
from assistant.talk.session import Session


def run(options: argparse.Namespace, world: Environment) -> ExitStatus:
    """Hear the scenario, and show the book at the end."""
    ear = open_ear(options.ears, options.model)
    mouth = None if options.quiet else Mouth(world.warn)
    understood = True
    with Book.scratch(world.clock) as book, as_file(files("audio_fixtures") / "demo") as folder:
        session = Session(book, doubting=False)
        world.say(session.begin().shown)
        world.say()
        for path in sorted(folder.glob("*.ogg")):
            for outcome in listen(session, ear, blocks(path)):
                tell(outcome, world, as_json=False)
                understood &= outcome.understood
                if mouth is not None:
                    mouth.say(outcome.reply.spoken)
        world.say("\nThe book:")
        print_table(lines(book.rows()), world.stdout)
    return ExitStatus.OK if understood else ExitStatus.NOT_UNDERSTOOD
