"""`rodside hear`: recordings in, answers out."""

from __future__ import annotations

import argparse
import json
from pathlib import Path

from assistant.commands.ask import tell
from assistant.commands.opening import keeper, open_book
from assistant.environment import Environment, ExitStatus, own_folder
from assistant.hearing.ears import open_ear
from assistant.hearing.port import Ear
from assistant.hearing.sources import SoundError, blocks
from assistant.listening import listen
from assistant.session import Outcome, Session
from assistant.speaking.mouth import Mouth
from assistant.speaking.port import Speech, to_wav


def run(options: argparse.Namespace, world: Environment) -> ExitStatus:
    """Hear every file, in order, as one talk. A file that cannot be read is told, and the rest goes on."""
    ear = open_ear(options.ears, options.model)
    statuses = []
    with open_book(options.book, world) as book:
        keep = keeper(options.book, options.keep_audio, world)
        session = Session(book, keep)
        if not session.job.opened:
            world.warn(session.begin().shown)
        mouth = _to_files(options.say_to, world) if options.say_to else None
        for path in options.file:
            try:
                statuses.append(_hear(path, session, ear, mouth, options.json, world))
            except SoundError as trouble:
                world.warn(f"rodside: {trouble}")
                statuses.append(trouble.status)
    return max(statuses)


def _hear(path: Path, session: Session, ear: Ear, mouth: Mouth | None, as_json: bool, world: Environment) -> ExitStatus:
    understood, count = True, 0
    for outcome in listen(session, ear, blocks(path)):
        count += 1
        understood &= outcome.understood
        _tell(path, outcome, world, as_json=as_json)
        if mouth is not None:
            mouth.say(outcome.reply.spoken)
    if count == 0:
        world.warn(f"rodside: nothing is said in {path}.")
    return ExitStatus.OK if understood and count else ExitStatus.NOT_UNDERSTOOD


def _tell(path: Path, outcome: Outcome, world: Environment, *, as_json: bool) -> None:
    if as_json:
        world.say(json.dumps({"file": str(path), **outcome.as_json()}, ensure_ascii=False))
    else:
        tell(outcome, world, as_json=False)


def _to_files(folder: Path, world: Environment) -> Mouth:
    own_folder(folder)
    written = 0

    def outlet(speech: Speech) -> None:
        nonlocal written
        written += 1
        to_wav(folder / f"answer-{written:03}.wav", speech)

    return Mouth(world.warn, outlet)
