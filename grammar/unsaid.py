"""Words that nobody says one after the other, though the rules have them: "nine eighths", "an quarter".

Typed they are told what is wrong with them. Heard they could only stand in the way of what was said.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Mapping
from functools import cache
from itertools import product

from grammar.quantities import Marking
from grammar.words import table

Never = Mapping[str, frozenset[str]]
"""By a word, those that never follow it."""

VOWEL = frozenset({"eighth"})
"""Parts that are said with "an"; the others with "a"."""

FEET = "feet"

FOOT = 12
"""Inches."""


@cache
def unsaid(marking: Marking | None) -> Never:
    """The pairs that are not said on a rod of this marking."""
    words, values = table().said, table().values
    counts = (*words["DIGIT"], *words["TEEN"], *words["TENS"])
    found: dict[str, set[str]] = defaultdict(set)
    for count in counts:
        found[count] |= set(words["PER"])  # "feet eight per foot"
        parts = [*words["PART"], *words["PARTS"], *words["HALF"]]
        found[count] |= {part for part in parts if values[count] >= values[part]}
        if values[count] == 1:
            found[count] |= set(words["PARTS"])
    found["a"] |= VOWEL | {FEET}
    found[FEET].add("per")  # "foot per foot" sounds nearly the same, and means it
    for zero, oh in product(words["ZERO"], words["OH"]):  # nobody says both in one number
        found[zero].add(oh)
        found[oh].add(zero)
    for measured in (*words["IN"], *words["BY"]):
        found[measured] |= set(words["PART"])  # "in sixteenth inch" sounds nearly like "in sixty feet"
    for station in words["STATION"]:
        found[station] |= set(words["POINT"])  # "station point zero" sounds nearly like "station one zero"
    found["an"] |= set(words["PART"]) - VOWEL
    for part in (*words["PART"], *words["PARTS"]):
        found[part].add("a")
    for unit in words["FOOT"]:
        found[unit] |= VOWEL  # "six foot eighth" sounds nearly like "six foot eight"; the part is said with "an"
    if marking is Marking.INCHES:
        for unit in words["FOOT"]:
            found[unit] |= {count for count in counts if values[count] >= FOOT}
    return {word: frozenset(after) for word, after in found.items()}


@cache
def seldom_said() -> Never:
    """The pairs that are said seldom: decimals are mostly said figure by figure. Common practice, no source."""
    words = table().said
    return {point: frozenset((*words["TENS"], *words["TEEN"])) for point in words["POINT"]}


def is_said(words: Iterable[str], never: Never) -> bool:
    """Whether none of the pairs is among the words."""
    before = ""
    for word in words:
        if word in never.get(before, ()):
            return False
        before = word
    return True
