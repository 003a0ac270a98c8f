"""`rodside ask`: utterances as text, answers as text or JSON."""

from __future__ import annotations

import argparse
import json

from assistant.commands.opening import open_book
from assistant.environment import Environment, ExitStatus
from assistant.talk.session import Outcome, Session


def run(options: argparse.Namespace, world: Environment) -> ExitStatus:
    """Give each text to one talk, in order."""
    every = True
    with open_book(options.book, world) as book:
        session = Session(book)
        if not session.job.opened:
            world.warn(session.begin().shown)
        for text in options.text:
            outcome = session.say(text)
            tell(outcome, world, as_json=options.json)
            every &= outcome.understood
            if outcome.over:
                break
    return ExitStatus.OK if every else ExitStatus.NOT_UNDERSTOOD


def tell(outcome: Outcome, world: Environment, *, as_json: bool) -> None:
    """Print one outcome."""
    if as_json:
        world.say(json.dumps(outcome.as_json(), ensure_ascii=False))
    else:
        world.say(f"> {outcome.heard}")
        world.say(f"  {outcome.reply.shown}")
