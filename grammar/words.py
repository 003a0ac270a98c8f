"""The word table, read once."""

from __future__ import annotations

import tomllib
from dataclasses import dataclass
from functools import cache
from importlib.resources import files


@dataclass(frozen=True)
class WordTable:
    """What `words.toml` says. `terminals` and `values` are by word, `said` are the spoken words of
    a terminal.
    """

    terminals: dict[str, str]
    values: dict[str, int]
    said: dict[str, tuple[str, ...]]
    reserved: dict[str, tuple[str, ...]]
    typed: dict[str, str]
    hints: dict[str, str]


@cache
def table() -> WordTable:
    """The table. Raises `ValueError` where a word stands in two terminals."""
    data = tomllib.loads(files("grammar").joinpath("words.toml").read_text("utf-8"))
    terminals: dict[str, str] = {}
    values: dict[str, int] = {}
    said: dict[str, tuple[str, ...]] = {}
    for name, words in {**data["number"], **data["word"]}.items():
        said[name] = tuple(words["said"])
        for word in (*words["said"], *words.get("typed", ())):
            if word in terminals:
                raise ValueError(f"{word!r} is in {terminals[word]} and in {name}")
            terminals[word] = name
            if name in data["number"]:
                values[word] = {**words["said"], **words.get("typed", {})}[word]
    return WordTable(
        terminals,
        values,
        said,
        {word: tuple(instead) for word, instead in data["reserved"].items()},
        data["typed"],
        data["hint"],
    )
