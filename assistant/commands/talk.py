"""`rodside`: a talk by microphone where there is one, else typed: at a prompt, or line by line on a pipe."""

from __future__ import annotations

import argparse
from collections.abc import Callable, Iterator

from assistant.book.store import Book
from assistant.commands.ask import tell
from assistant.commands.opening import book_of_today, keeper
from assistant.conversation.phrase import phrase
from assistant.environment import Environment, ExitStatus
from assistant.hearing.ears import open_ear
from assistant.hearing.microphone import Microphone, MicrophoneLost
from assistant.hearing.port import Ear, Samples
from assistant.hearing.sources import SoundError
from assistant.listening import listen
from assistant.session import Outcome, Session
from assistant.speaking.mouth import Mouth

Say = Callable[[str], None]

WAITS_FOR_MICROPHONE = 3600.0
"""Seconds in which a microphone that was lost may come back. Our own choice: a long lunch."""


def run(options: argparse.Namespace, world: Environment) -> ExitStatus:
    """Talk until told to stop, or the input ends."""
    microphone = None if options.typed or not world.stdin.isatty() else _microphone(options, world)
    if options.device and microphone is None and not options.typed:
        return ExitStatus.SOUND
    path = options.book or book_of_today(world)
    with Book.open(path, world.clock) as book:
        session = Session(book, keeper(path, options.keep_audio, world) if microphone is not None else None)
        say = _speaker(options, world)
        begun = session.begin()
        world.say(f"{begun.shown}\nThe book is {path}.")
        if microphone is not None:
            say(begun.spoken)
            _by_voice(session, microphone, options, world, say)
        elif world.stdin.isatty():
            _at_a_prompt(session, world, say)
        else:
            _take((line.strip() for line in world.stdin), session, world)
    return ExitStatus.OK


def _microphone(options: argparse.Namespace, world: Environment) -> Microphone | None:
    try:
        return Microphone(options.device)
    except SoundError as trouble:
        world.warn(f"rodside: {trouble}")
        return None


def _speaker(options: argparse.Namespace, world: Environment) -> Say:
    if options.quiet or not world.stdin.isatty():
        return lambda text: None
    return Mouth(world.warn).say


def _by_voice(
    session: Session,
    microphone: Microphone,
    options: argparse.Namespace,
    world: Environment,
    say: Say,
) -> None:
    ear = open_ear(options.ears, options.model)
    while not _heard_out(session, microphone, ear, world, say):
        told = phrase("microphone lost")
        world.warn(f"rodside: {told.shown}")
        say(told.spoken)
        if not microphone.reopen(WAITS_FOR_MICROPHONE):
            raise SoundError(f"The microphone {microphone.name} did not come back; the book is safe.")
    if microphone.overflows:
        world.warn(f"rodside: {microphone.overflows} blocks of sound were lost; the machine is busy.")


def _heard_out(session: Session, microphone: Microphone, ear: Ear, world: Environment, say: Say) -> bool:
    """Listen until the talk is over; false when the microphone was lost. Half a sentence is never joined to another."""
    try:
        for outcome in listen(session, ear, _announced(microphone, ear, world)):
            tell(outcome, world, as_json=False)
            say(outcome.reply.spoken)
            microphone.forget()
    except MicrophoneLost:
        return False
    return True


def _announced(microphone: Microphone, ear: Ear, world: Environment) -> Iterator[Samples]:
    """The sound, with a word once it really comes: what is said before is lost."""
    for number, block in enumerate(microphone.blocks()):
        if number == 0:
            world.say(f"Listening by {microphone.name}, with {ear.name}. Say: stop listening.")
        yield block


def _at_a_prompt(session: Session, world: Environment, say: Say) -> None:
    from assistant.prompt import lines

    _take(lines(session), session, world, say)


def _take(lines: Iterator[str], session: Session, world: Environment, say: Say | None = None) -> None:
    for line in lines:
        if not line:
            continue
        outcome: Outcome = session.utterance([line])
        world.say(outcome.reply.shown)
        if say is not None:
            say(outcome.reply.spoken)
        session.settle()
        if outcome.over:
            return
