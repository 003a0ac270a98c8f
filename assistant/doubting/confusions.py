"""Which number words our own ear takes for which: a table that `rodside trial --calibrate` makes again."""

from __future__ import annotations

import tomllib
from collections.abc import Iterator
from functools import cache
from importlib.resources import files

from grammar import sound_alikes
from grammar.words import table as words

LEAST = 0.002
"""The chance of a confusion below which it is left out of account."""

TEENS = sound_alikes.TWIN

TEEN_AT_LEAST = 0.01
"""The chance that a teen was a ty, or the other way round, whatever was measured on synthetic voices.
Source: fifteen heard as fifty, reports on patient safety (check W09, read); the figure is our own choice."""


@cache
def table() -> dict[str, dict[str, float]]:
    """By the word heard: the words that were said instead, and how often."""
    return _with_teens("heard")


@cache
def unguessed() -> dict[str, dict[str, float]]:
    """The same, where what was said was not even among the guesses."""
    return _with_teens("unguessed")


def _with_teens(name: str) -> dict[str, dict[str, float]]:
    data = tomllib.loads(files("assistant.doubting").joinpath("confusions.toml").read_text("utf-8"))
    found: dict[str, dict[str, float]] = {heard: dict(said) for heard, said in data[name].items()}
    for heard, said in TEENS.items():
        row = found.setdefault(heard, {})
        row[said] = max(row.get(said, 0.0), TEEN_AT_LEAST)
    return found


def is_number(word: str) -> bool:
    """Whether a word has a value."""
    return word in words().values


def variants(text: str) -> Iterator[tuple[str, float]]:
    """The sentence with one number word changed for one that may have been said unheard, and how likely that is."""
    said = text.split()
    for at, word in enumerate(said):
        for other, chance in unguessed().get(word, {}).items():
            if chance >= LEAST:
                yield " ".join([*said[:at], other, *said[at + 1 :]]), chance
