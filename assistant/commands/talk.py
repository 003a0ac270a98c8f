"""`rodside`: a talk by microphone where there is one, else typed: at a prompt, or line by line on a pipe."""

from __future__ import annotations

import argparse
from collections.abc import Iterator
from threading import Thread

from assistant.book.store import Book
from assistant.commands.ask import tell
from assistant.commands.opening import book_of_today, keeper
from assistant.environment import Environment, ExitStatus
from assistant.hearing.ears import open_ear
from assistant.hearing.echo import is_echo
from assistant.hearing.keys import Keys, pressed
from assistant.hearing.lead import LEAD, LedEar
from assistant.hearing.microphone import Microphone, MicrophoneLost
from assistant.hearing.port import Ear, Samples
from assistant.hearing.sources import SoundError
from assistant.settings import read
from assistant.speaking.mouth import Mouth, Mute
from assistant.speaking.signals import Signal
from assistant.talk.listening import listen, listen_once
from assistant.talk.session import Outcome, Session
from assistant.wording.phrase import phrase

WAITS_FOR_MICROPHONE = 3600.0
"""Seconds in which a microphone that was lost may come back. Our own choice: a long lunch."""


def run(options: argparse.Namespace, world: Environment) -> ExitStatus:
    """Talk until told to stop, or the input ends."""
    microphone = None if options.typed or not world.stdin.isatty() else _microphone(options, world)
    if options.device and microphone is None and not options.typed:
        return ExitStatus.SOUND
    path = options.book or book_of_today(world)
    with Book.open(path, world.clock, cache=world.cache) as book:
        keep = keeper(path, options.keep_audio, world) if microphone is not None else None
        session = Session(book, keep)
        speaker = Mute() if options.quiet or not world.stdin.isatty() else Mouth(world.warn)
        begun = session.begin()
        world.say(f"{begun.shown}\nThe book is {path}.")
        if microphone is not None:
            usual = read(world.settings)
            ear = open_ear(options.ears, options.model)
            if (options.lead or usual.lead) and not options.key:
                ear = LedEar(ear, lambda: session.job.question is None)
            talk = _Talk(session, microphone, ear, world, speaker, headset=options.headset or usual.headset)
            talk.answer(begun.spoken)
            if options.key:
                with pressed(world.stdin, talk.hush) as keys:
                    talk.go_on(keys)
            else:
                talk.go_on(None)
        elif world.stdin.isatty():
            _at_a_prompt(session, world, speaker)
        else:
            _take((line.strip() for line in world.stdin), session, world, speaker)
    return ExitStatus.OK


def _microphone(options: argparse.Namespace, world: Environment) -> Microphone | None:
    try:
        return Microphone(options.device)
    except SoundError as trouble:
        world.warn(f"rodside: {trouble}")
        return None


class _Talk:
    """A talk by microphone, aloud where there is a speaker.

    While we speak we do not listen, or would answer ourselves; with a headset we do, and fall silent when spoken to.
    """

    def __init__(
        self,
        session: Session,
        microphone: Microphone,
        ear: Ear,
        world: Environment,
        mouth: Mouth | Mute,
        *,
        headset: bool,
    ) -> None:
        self._session, self._microphone, self._ear, self._world = session, microphone, ear, world
        self._mouth, self._headset = mouth, headset
        self._speaking: Thread | None = None
        self._lost = 0

    def go_on(self, keys: Keys | None) -> None:
        """Listen until the talk is over: all the time, or after each press of a key."""
        while not (self._listening() if keys is None else self._listening_by_key(keys)):
            told = phrase("microphone lost")
            self._world.warn(f"rodside: {told.shown}")
            self.answer(told.spoken)
            if not self._microphone.reopen(WAITS_FOR_MICROPHONE):
                raise SoundError(f"The microphone {self._microphone.name} did not come back; the book is safe.")
        if self._speaking is not None:
            self._speaking.join()
        if self._microphone.overflows:
            self._world.warn(f"rodside: {self._microphone.overflows} blocks of sound were lost; the machine is busy.")

    def _listening(self) -> bool:
        """Listen until the talk is over; false when the microphone was lost. No half sentence is joined to another."""
        try:
            how = f"Begin with the word {LEAD}" if isinstance(self._ear, LedEar) else "Say: stop listening"
            blocks = self._announced(f"{how}.")
            for outcome in listen(self._session, self._ear, blocks, self.hush, self._is_own if self._headset else None):
                if self._is_for_us(outcome):
                    self._tell(outcome)
                    if outcome.reply.spoken and not self._headset:
                        self._microphone.forget()
        except MicrophoneLost:
            return False
        return True

    def _listening_by_key(self, keys: Keys) -> bool:
        """The same, one utterance after each press; another press ends it."""
        blocks = self._announced("Press a key, such as space, and speak; press again where noise goes on.")
        seen = keys.count
        try:
            next(blocks)
            while True:
                seen = keys.wait(seen, self._microphone.forget)
                self._mouth.signal(Signal.LISTENING)
                self._microphone.forget()
                outcome = listen_once(self._session, self._ear, _until_pressed(blocks, keys, seen))
                seen = keys.count
                if outcome is None:
                    continue
                self._tell(outcome)
                self._session.settle()
                if outcome.over:
                    return True
        except MicrophoneLost:
            return False

    def _tell(self, outcome: Outcome) -> None:
        if self._microphone.overflows > self._lost:
            self._lost = self._microphone.overflows
            outcome = outcome.remarked(phrase("sound lost"))
        tell(outcome, self._world, as_json=False)
        self.answer(outcome.reply.spoken, Signal.UNDERSTOOD if outcome.understood else Signal.NOT_UNDERSTOOD)

    def answer(self, text: str, signal: Signal | None = None) -> None:
        """Speak to the end, or with a headset while listening."""
        if not self._headset:
            self._mouth.say(text, signal)
            return
        self.hush()
        self._speaking = Thread(target=self._mouth.say, args=(text, signal), daemon=True)
        self._speaking.start()

    def hush(self) -> None:
        """Fall silent: somebody speaks, or pressed a key."""
        self._mouth.hush()

    def _is_for_us(self, outcome: Outcome) -> bool:
        return bool(outcome.heard) or not (isinstance(self._ear, LedEar) and self._ear.needed())

    def _is_own(self, heard: Samples) -> bool:
        return is_echo(heard, self._mouth.lately())

    def _announced(self, how: str) -> Iterator[Samples]:
        """The sound, with a word once it really comes: what is said before is lost."""
        for number, block in enumerate(self._microphone.blocks()):
            if number == 0:
                self._world.say(f"Listening by {self._microphone.name}, with {self._ear.name}. {how}")
            yield block


def _until_pressed(blocks: Iterator[Samples], keys: Keys, seen: int) -> Iterator[Samples]:
    for block in blocks:
        yield block
        if keys.count > seen:
            return


def _at_a_prompt(session: Session, world: Environment, mouth: Mouth | Mute) -> None:
    from assistant.commands.prompt import lines

    _take(lines(session), session, world, mouth)


def _take(lines: Iterator[str], session: Session, world: Environment, mouth: Mouth | Mute) -> None:
    for line in lines:
        if not line:
            continue
        outcome: Outcome = session.utterance([line])
        world.say(outcome.reply.shown)
        mouth.say(outcome.reply.spoken)
        session.settle()
        if outcome.over:
            return
