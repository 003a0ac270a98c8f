"""`rodside hear`: recordings in, answers out."""

from __future__ import annotations

import argparse
import json
import math
from collections.abc import Iterator
from pathlib import Path

from assistant.commands.ask import tell
from assistant.commands.opening import keeper, open_book
from assistant.environment import Environment, ExitStatus, own_folder
from assistant.hearing.ears import open_ear
from assistant.hearing.endpoint import Timing
from assistant.hearing.port import SAMPLE_RATE, Ear, Samples
from assistant.hearing.sources import BLOCK_SECONDS, SoundError, blocks, clock
from assistant.speaking.mouth import Mouth
from assistant.speaking.port import Speech, to_wav
from assistant.talk.listening import listen
from assistant.talk.session import Outcome, Session

EVERY_AT_A_TERMINAL, EVERY = 60, 600
"""Seconds of sound after which it is told how far a file was heard: where somebody watches, and elsewhere."""

MOST_TOLD = 20
"""Places passed over that are told one by one."""


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
    progress = _Progress(path, world)
    try:
        for outcome in listen(session, ear, progress.blocks(), progress.began, progress.is_passed_over):
            progress.answered()
            count += 1
            understood &= outcome.understood
            _tell(path, outcome, world, as_json=as_json)
            if mouth is not None:
                mouth.say(outcome.reply.spoken)
        progress.ended()
    finally:
        progress.tell_passed_over()
    if count == 0 and not progress.passed_over:
        world.warn(f"rodside: nothing is said in {path}.")
    return ExitStatus.OK if understood and count and not progress.passed_over else ExitStatus.NOT_UNDERSTOOD


class _Progress:
    """How far a file was heard, and where talk was passed over, in seconds from its beginning to within a block."""

    def __init__(self, path: Path, world: Environment) -> None:
        self.passed_over: list[tuple[float, float]] = []
        self._path, self._world = path, world
        self._samples = 0
        self._began: float | None = None

    @property
    def _at(self) -> float:
        return self._samples / SAMPLE_RATE

    def blocks(self) -> Iterator[Samples]:
        """The sound; now and then it is told how much of it was heard."""
        every = EVERY_AT_A_TERMINAL if self._world.stderr.isatty() else EVERY
        told = every
        for block in blocks(self._path):
            if self._at >= told:
                self._world.warn(f"rodside: {self._path}: heard to {clock(self._at)}.")
                told += every
            self._samples += len(block)
            yield block

    def began(self) -> None:
        """Somebody began to speak."""
        self._began = max(0.0, self._at - BLOCK_SECONDS)

    def is_passed_over(self, samples: Samples) -> bool:
        """Take note of talk that was too long to be an utterance, of which there are no samples."""
        if len(samples):
            return False
        self.ended()
        return True

    def answered(self) -> None:
        """What was said is dealt with."""
        self._began = None

    def ended(self) -> None:
        """Whoever still speaks has gone on for too long: all else that was said was answered."""
        if self._began is not None:
            self.passed_over.append((self._began, self._at))
        self._began = None

    def tell_passed_over(self) -> None:
        """Tell what nobody answered, and why."""
        if not self.passed_over:
            return
        places = [f"{clock(start)} to {clock(math.ceil(end))}" for start, end in self.passed_over]
        if len(places) > MOST_TOLD:
            lost = sum(end - start for start, end in self.passed_over)
            places[MOST_TOLD:] = [f"and {len(places) - MOST_TOLD} more, {clock(lost)} in all"]
        self._world.warn(
            f"rodside: {self._path}: passed over, as talk that goes on for more than {Timing.longest:.0f} seconds: "
            f"{', '.join(places)}. Pause after each sentence."
        )


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
