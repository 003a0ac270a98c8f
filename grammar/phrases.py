"""Sentences drawn from the grammar: for recognisers, for tests, and for help."""

from __future__ import annotations

import random
import tomllib
from collections import defaultdict
from collections.abc import Iterator
from functools import cache
from importlib.resources import files

from lark.grammar import NonTerminal, Rule

from grammar.automaton import spoken_rules
from grammar.quantities import Marking
from grammar.unsaid import is_said, unsaid
from grammar.words import table

MORE_OFTEN = {"_working": 6, "_setting": 3, "_asking": 3, "bare_answer": 4, "small": 8, "length": 4}
"""How much likelier than others a rule is drawn, so that what is said most is drawn most."""

REPEAT = 0.4
"""The chance of one more word in a run, such as of digits."""


@cache
def examples(topic: str) -> tuple[str, ...]:
    """Sentences about "setting up", "lines", "readings", "questions" or "talking", the most useful
    first.
    """
    return tuple(_examples()[topic])


def topics() -> tuple[str, ...]:
    """The groups of `examples`."""
    return tuple(_examples())


def sample(count: int, seed: int, start: str = "sentence", marking: Marking | None = None) -> Iterator[str]:
    """Draw sentences by a random walk of the rules, as spoken on such a rod; the same ones for the
    same seed.
    """
    dice = random.Random(seed)
    rules, never = _rules(marking), unsaid(marking)
    for _ in range(count):
        words = _expanded(NonTerminal(start), rules, dice)
        while not is_said(words, never):
            words = _expanded(NonTerminal(start), rules, dice)
        yield " ".join(words)


@cache
def _examples() -> dict[str, list[str]]:
    return tomllib.loads(files("grammar").joinpath("examples.toml").read_text("utf-8"))


@cache
def _rules(marking: Marking | None) -> dict[NonTerminal, list[Rule]]:
    by_origin: dict[NonTerminal, list[Rule]] = defaultdict(list)
    for rule in spoken_rules(marking):
        by_origin[rule.origin].append(rule)
    return by_origin


def _expanded(symbol: NonTerminal, rules: dict[NonTerminal, list[Rule]], dice: random.Random) -> list[str]:
    repeated = [rule for rule in rules[symbol] if rule.expansion[:1] == [symbol]]
    first = [rule for rule in rules[symbol] if rule not in repeated]
    weights = [MORE_OFTEN.get(rule.expansion[0].name, 1) if rule.expansion else 1 for rule in first]
    chosen = list(dice.choices(first, weights)[0].expansion)
    while repeated and dice.random() < REPEAT:
        chosen += dice.choice(repeated).expansion[1:]
    words: list[str] = []
    for part in chosen:
        if isinstance(part, NonTerminal):
            words += _expanded(part, rules, dice)
        else:
            words.append(dice.choice(table().said[part.name]))
    return words
