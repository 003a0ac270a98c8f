"""How likely it is that a person words it so, whatever it means."""

from __future__ import annotations

import re
from enum import Enum
from functools import cache
from itertools import islice

from assistant.job.state import Job
from grammar.words import table

MIXED = 0.05
"""The share of sentences in which a whole number is said by its digits where another is not: "fifteen feet by eight two
feet" is mostly "by eighteen feet", and after "one plus eighty" comes "one plus ninety", not "one plus nine six". Of
5,371 utterances four were heard so in one sentence, three of them wrongly. So with units: after "station fifty three"
comes "station sixty three", not "station sixty feet". Our own choice."""

LATELY = 3
"""Readings by whose words it is told how somebody says numbers."""

IN_STATION = ("DIGIT", "ZERO", "OH", "TEEN", "TENS", "HUNDRED", "POINT", "PLUS")
UNITS = ("FOOT", "METRE")
"""Kinds of word that the number of a station is made of, and that may come after it."""

BEFORE_STATION = ("STATION", "PLUS")
BEFORE_PLACE = ("AT", *BEFORE_STATION)
BEFORE_WHOLE = (*BEFORE_PLACE, "BY", "OF", "OVER")
BEFORE_RATIO = ("IN",)
"""Kinds of word after which a station comes; any place; a measure too; a ratio: "one in eighty" is its own phrase."""


class Manner(Enum):
    """How whole numbers from ten on are said, and stations."""

    BY_DIGITS = "two four"
    IN_A_WORD = "twenty four"
    BARE = "station twenty"
    WITH_UNIT = "station twenty feet"


BOTH = frozenset({Manner.BY_DIGITS, Manner.IN_A_WORD})
EITHER_OR = (BOTH, frozenset({Manner.BARE, Manner.WITH_UNIT}))
"""Manners of which one person mostly has one."""


def share(text: str, used: frozenset[Manner] = frozenset()) -> float:
    """How likely a wording is, to an ordinary one, of somebody who said other places in the manners `used`."""
    in_places = manners_of_places(text)
    is_mixed = _manners(text) == BOTH or any(_differ(in_places & either, used & either) for either in EITHER_OR)
    return MIXED if is_mixed else 1.0


def _differ(some: frozenset[Manner], others: frozenset[Manner]) -> bool:
    return len(some) == len(others) == 1 and some != others


def used_lately(job: Job) -> frozenset[Manner]:
    """In which manners the places of the last readings were said."""
    lately = (record.row.heard or "" for record in islice(job.readings(), LATELY))
    return frozenset().union(*map(manners_of_places, lately))


def manners_of_places(text: str) -> frozenset[Manner]:
    """In which manners a sentence has places."""
    numbers = _found(text, _after(BEFORE_PLACE, _BY_DIGITS), _after(BEFORE_PLACE, _IN_A_WORD))
    return numbers | {Manner.WITH_UNIT if unit else Manner.BARE for unit in _station().findall(text)}


def _manners(text: str) -> frozenset[Manner]:
    return _found(text, _after(BEFORE_WHOLE, _BY_DIGITS), _but_after(BEFORE_RATIO, _IN_A_WORD))


def _found(text: str, by_digits: re.Pattern[str], in_a_word: re.Pattern[str]) -> frozenset[Manner]:
    patterns = {Manner.BY_DIGITS: by_digits, Manner.IN_A_WORD: in_a_word}
    return frozenset(manner for manner, pattern in patterns.items() if pattern.search(text))


_BY_DIGITS = (("DIGIT",), ("DIGIT", "ZERO", "OH"))
_IN_A_WORD = (("TEEN", "TENS"),)
"""The kinds of word that each word of a number may be of."""


@cache
def _after(before: tuple[str, ...], number: tuple[tuple[str, ...], ...]) -> re.Pattern[str]:
    """A number after a word of one of some kinds."""
    return re.compile(rf"\b{' '.join(_any(*kinds) for kinds in (before, *number))}\b")


@cache
def _but_after(before: tuple[str, ...], number: tuple[tuple[str, ...], ...]) -> re.Pattern[str]:
    """A number anywhere but after a word of one of some kinds."""
    return re.compile(rf"(?:^|\b(?!{_any(*before)} )\w+ ){' '.join(_any(*kinds) for kinds in number)}\b")


@cache
def _station() -> re.Pattern[str]:
    """A station, and the unit after it if there is one."""
    figure = rf"{_any(*IN_STATION)}\b"
    return re.compile(rf"\b{_any(*BEFORE_STATION)} {figure}(?: {figure})*( {_any(*UNITS)}\b)?")


def _any(*kinds: str) -> str:
    said = table().said
    return f"(?:{'|'.join(word for kind in kinds for word in said[kind])})"
