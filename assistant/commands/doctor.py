"""`rodside doctor`: what works here, and what to do where it does not."""

from __future__ import annotations

import argparse
import shutil
import tempfile
from collections.abc import Callable
from pathlib import Path

from assistant.book.entries import Entry
from assistant.book.store import Book
from assistant.environment import Environment, ExitStatus, Trouble
from assistant.hearing.ears import open_ear
from assistant.hearing.microphone import Microphone
from assistant.speaking.loudspeaker import Loudspeaker
from assistant.speaking.voices import open_voice
from grammar.automaton import compile_language

ROOM = 100_000_000
"""Bytes of free disk under which a day's book could run out of room. Our own choice."""


def run(options: argparse.Namespace, world: Environment) -> ExitStatus:
    """Try each part, and tell. Without microphone or loudspeaker Rodside can still be typed at."""
    checks: dict[str, Callable[[], str]] = {
        "microphone": lambda: Microphone().name,
        "loudspeaker": _loudspeaker,
        "voice": _voice,
        "ears": lambda: _ears(options),
        "book": lambda: _book(world),
        "disk": lambda: _disk(world),
    }
    status = ExitStatus.OK
    for name, check in checks.items():
        try:
            world.say(f"{name:12} works: {check()}")
        except (Trouble, OSError) as trouble:
            world.say(f"{name:12} FAILS: {trouble}")
            status = ExitStatus.NOT_UNDERSTOOD
    return status


def _loudspeaker() -> str:
    Loudspeaker()
    return "the default output"


def _voice() -> str:
    voice = open_voice()
    seconds = voice.say("Cut nine and five eighths inches.").seconds
    return f"{voice.name}, {seconds:.1f} s of test speech"


def _ears(options: argparse.Namespace) -> str:
    ear = open_ear(options.ears, options.model)
    words = compile_language("sentence").words
    missing = ear.missing_words(compile_language("sentence"))
    lacks = f"; cannot hear: {', '.join(missing)}" if missing else ""
    return f"{ear.name}, {len(words) - len(missing)} of {len(words)} words{lacks}"


def _book(world: Environment) -> str:
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "test.rodside"
        with Book.open(path, world.clock) as book:
            book.append([Entry("opened", {})], heard=None, engine=None, audio=None, reply="")
        return f"written and read back; books go to {world.books}"


def _disk(world: Environment) -> str:
    place = world.books
    while not place.exists():
        place = place.parent
    free = shutil.disk_usage(place).free
    if free < ROOM:
        raise OSError(f"only {free // 1_000_000} MB are free in {place}; make room.")
    return f"{free // 1_000_000:,} MB free in {place}"
