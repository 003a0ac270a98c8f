"""How words are said: the CMU dictionary, and what people on a site say otherwise."""

from __future__ import annotations

import re
import subprocess
from collections.abc import Iterable
from functools import cache
from importlib.resources import files
from pathlib import Path

from assistant.lab.training.sounds import SILENCE, SOUND_ID

Lexicon = dict[str, list[list[str]]]
"""Word to its pronunciations, each a list of sounds."""


FLITE_SOUNDS = {"ax": "AH", "axr": "ER", "pau": "SIL", "h#": "SIL", "brth": "SIL", "ssil": "SIL"}
"""flite's names of sounds that are not the CMU dictionary's."""


class LexiconError(Exception):
    """Words that nobody said how to pronounce."""


@cache
def lexicon() -> Lexicon:
    """Read the dictionary that comes with PocketSphinx, then our own pronunciations, which are added to it."""
    import pocketsphinx

    path = Path(pocketsphinx.get_model_path()) / "en-us" / "cmudict-en-us.dict"
    own = files("assistant.lab.training").joinpath("said.txt").read_text("utf-8")
    return read_lexicon([*path.read_text("utf-8").splitlines(), *own.splitlines()])


def read_lexicon(lines: Iterable[str]) -> Lexicon:
    """Read lines of a word and its sounds. A "(2)" after a word marks another way to say it; "#" starts a note.

    Raises `LexiconError` for a sound that is not in the list of sounds.
    """
    table: Lexicon = {}
    for line in lines:
        word, *sounds = line.partition("#")[0].split() or [""]
        word = re.sub(r"\(\d+\)$", "", word)
        if not word:
            continue
        unknown = [sound for sound in sounds if sound not in SOUND_ID]
        if unknown or not sounds:
            raise LexiconError(f"{word}: no sound is called {' '.join(unknown) or 'nothing'}.")
        ways = table.setdefault(word, [])
        if sounds not in ways:
            ways.append(sounds)
    return table


def pronunciations(words: Iterable[str], table: Lexicon | None = None) -> Lexicon:
    """Pick the entries of `words`. Raises `LexiconError` naming every word that has none."""
    known = lexicon() if table is None else table
    wanted = sorted(set(words))
    missing = [word for word in wanted if word not in known]
    if missing:
        raise LexiconError(f"Say in said.txt how these are pronounced: {', '.join(missing)}.")
    return {word: known[word] for word in wanted}


def guessed(words: Iterable[str]) -> Lexicon:
    """Let flite guess at words that no dictionary has, such as names in recordings of general English."""
    found: Lexicon = {}
    for word in sorted(set(words)):
        told = subprocess.run(["flite", "-voice", "kal", "-ps", "-t", word, "none"], capture_output=True, text=True)
        sounds = [FLITE_SOUNDS.get(sound, sound.upper()) for sound in told.stdout.split()]
        kept = [sound for sound in sounds if sound in SOUND_ID and sound != SILENCE]
        if kept:
            found[word] = [kept]
    return found
