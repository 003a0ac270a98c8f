"""`rodside play`: the sound of an entry, as it was spoken."""

from __future__ import annotations

import argparse

from assistant.book.errors import BookError
from assistant.book.sounds import Sounds
from assistant.commands.opening import read_book
from assistant.environment import Environment, ExitStatus
from assistant.speaking.loudspeaker import Loudspeaker
from assistant.speaking.port import Speech, to_wav


def run(options: argparse.Namespace, world: Environment) -> ExitStatus:
    """Play it, or write it as WAV. The sound is proved against its entry first."""
    with read_book(options.book, world) as book:
        row = next(iter(book.rows(after=options.entry - 1)), None)
    if row is None or row.sequence != options.entry:
        raise BookError(f"{options.book} has no entry {options.entry}.")
    samples, rate = Sounds(options.book).read(row)
    world.say(f"{row.sequence}  {row.time[:19]} UTC  {row.heard}")
    world.say(f"  {row.reply}")
    speech = Speech(samples, rate)
    if options.output is not None:
        to_wav(options.output, speech)
    else:
        Loudspeaker().play(speech)
    return ExitStatus.OK
