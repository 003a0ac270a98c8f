"""Number words as exact values, and the few ways in which bare number words can be read on a rod or
along a line.
"""

from __future__ import annotations

from dataclasses import dataclass
from fractions import Fraction

from lark import Token, Tree

from grammar.quantities import Length, Marking, Station
from grammar.words import table

Node = Tree[Token]

WHOLE = ("small", "large")
"""Nodes that are a whole number; the large ones have a hundred or a thousand."""

FIGURES = ("two_figures", "digits")
"""Nodes that are a number figure by figure."""

PAIR = ("pair", "wide_pair")
"""Nodes of two numbers one after the other; the second of a wide one is twenty or more: no inches."""

BARE = (*WHOLE, *FIGURES, *PAIR)
"""Nodes that are a number without a unit."""


class Unusable(Exception):
    """Words that are a number in form only. `reason` and `about` are those of a `Miss`."""

    def __init__(self, reason: str, about: str) -> None:
        super().__init__(f"{reason}: {about}")
        self.reason, self.about = reason, about


@dataclass(frozen=True)
class Said:
    """A number or part of one, with the smallest step that the words could have told."""

    amount: Fraction
    step: Fraction


def words(node: Node | Token) -> str:
    """The words under a node."""
    if isinstance(node, Token):
        return str(node)
    return " ".join(words(child) for child in node.children)


def value(token: Token) -> int:
    """What a number word is worth."""
    return table().values[str(token)]


def cardinal(node: Node) -> int:
    """A whole number: "four thousand five hundred six"."""
    if node.data in FIGURES:
        return int(figures(node))
    total = current = 0
    for token in node.children:
        assert isinstance(token, Token)
        if token.type == "HUNDRED":
            current *= 100
        elif token.type == "THOUSAND":
            total, current = total + current * 1000, 0
        elif token.type != "AND":
            current += value(token)
    return total + current


def part(node: Node) -> Said:
    """A part of one: "a quarter", "five eighths". Raises `Unusable` for nine eighths."""
    tokens = [token for token in node.children if isinstance(token, Token)]
    under = value(tokens[-1])
    over = value(tokens[0]) if len(tokens) > 1 and tokens[0].type not in ("A", "AN") else 1
    if over >= under:
        raise Unusable("fraction", words(node))
    return Said(Fraction(over, under), Fraction(1, under))


def decimal(node: Node) -> Said:
    """A decimal number: "three point seven five"; `step` is the worth of its last digit."""
    whole = 0
    for child in node.children[:-1]:
        if isinstance(child, Tree):
            whole = cardinal(child) if child.data in WHOLE else int(figures(child))
    if node.data == "offset_decimal":
        whole = int(figures(Tree("figures", node.children[:-2])))
    last = node.children[-1]
    assert isinstance(last, Tree)
    places = figures(last)
    step = Fraction(1, 10 ** len(places))
    return Said(whole + int(places) * step, step)


def figures(node: Node) -> str:
    """Number words as figures, one after another: "seven five" and "seventy five" are "75"."""
    written = ""
    tokens = [token for token in node.children if isinstance(token, Token)]
    for at, token in enumerate(tokens):
        follows = at > 0 and tokens[at - 1].type == "TENS" and token.type == "DIGIT"
        written = written[:-1] + str(value(token)) if follows else written + str(value(token))
    return written


def pair(node: Node) -> tuple[int, str]:
    """Two numbers in one breath: "twelve fifty" is 12 and "50", "three oh six" is 3 and "06"."""
    tokens = [token for token in node.children if isinstance(token, Token)]
    first = 2 if tokens[0].type == "TENS" and tokens[1].type == "DIGIT" and len(tokens) > 2 else 1
    left = sum(value(token) for token in tokens[:first])
    return left, figures(Tree("figures", list(tokens[first:])))


def on_inches(node: Node) -> list[Length]:
    """Bare words on a rod in feet and inches, every way they can be read: "three nine" is 3 ft 9
    in.
    """
    if node.data in WHOLE:
        whole = cardinal(node)
        if whole == 0:
            return [Length(Fraction(0), Marking.INCHES, Fraction(1, 12))]
        if whole >= 12:
            raise Unusable("lone number", words(node))
        feet = Length(Fraction(whole), Marking.INCHES, Fraction(1))
        return [feet, Length(Fraction(whole, 12), Marking.INCHES, Fraction(1, 12))]
    if node.data in PAIR:
        left, right = pair(node)
        splits = [(left, int(right))]
    else:
        written = figures(node)
        splits = [(int(written[:at]), int(written[at:])) for at in range(1, len(written))]
        splits = [(f, i) for f, i in splits if len(written) <= 4 and (f or len(written) == 2)]
        splits = [s for s in splits if s[1] < 12] or splits[:1]
    feasible = [(feet, inches) for feet, inches in splits if inches < 12]
    if not feasible:
        raise Unusable("inches", words(node))
    return [Length(f + Fraction(i, 12), Marking.INCHES, Fraction(1, 12)) for f, i in feasible]


def on_tenths(node: Node) -> list[Length]:
    """Bare words on a rod in tenths, every way to read them: "three seventy five" is 3.75 ft."""

    def length(whole: str, places: str) -> Length:
        step = Fraction(1, 10 ** len(places))
        return Length(Fraction(f"{whole}.{places or 0}"), Marking.TENTHS, step)

    if node.data in WHOLE:
        whole = str(cardinal(node))
        if whole == "0":
            return [length(whole, "")]
        if len(whole) > 2:
            raise Unusable("lone number", words(node))
        return [length(whole, ""), length(whole[:-1] or "0", whole[-1])]
    if node.data in PAIR:
        left, right = pair(node)
        return [length(str(left), right)]
    written = figures(node)
    if len(written) == 2:
        near, far = length(written[0], written[1]), length("0", written)
        return [near, far] if written[0] == "0" else [near]
    if len(written) == 3:
        near, far = length(written[0], written[1:]), length(written[:2], written[2])
        return [near, far] if written[0] in "12" else [near]
    if len(written) == 4 and written[0] in "12":
        return [length(written[:2], written[2:])]
    raise Unusable("not a number", words(node))


def on_rod(node: Node, marking: Marking | None) -> list[Length]:
    """Bare words as a rod reading. Raises `Unusable` where the rod does not tell what they are."""
    if marking is Marking.INCHES:
        return on_inches(node)
    if marking is Marking.TENTHS:
        return on_tenths(node)
    if marking is Marking.METRIC and node.data in WHOLE and cardinal(node) == 0:
        return [Length(Fraction(0), Marking.METRIC, Fraction(1))]
    raise Unusable("rod unknown" if marking is None else "bare on metric", words(node))


def bare_place(node: Node) -> list[Fraction]:
    """Bare words as a place along a line: "forty", "one fifty" (150), "two" (2, or two hundred)."""
    if node.data in WHOLE:
        whole = cardinal(node)
        lone = 1 <= whole <= 9
        return [Fraction(whole), Fraction(100 * whole)] if lone else [Fraction(whole)]
    if node.data == "no_place":
        raise Unusable("not a number", words(node))
    if node.data in PAIR:
        left, right = pair(node)
        return [Fraction(100 * left + int(right))]
    return [Fraction(int(figures(node)))]


def plus_place(node: Node) -> list[Said]:
    """ "one plus fifty": full stations of a hundred and what is beyond."""
    full, rest = node.children[0], node.children[-1]
    if isinstance(full, Token):
        hundreds = 0
    else:
        hundreds = cardinal(full) if full.data in WHOLE else int(figures(full))
    assert isinstance(rest, Tree)
    if rest.data == "offset_decimal":
        beyond = [decimal(rest)]
    else:
        offset = figures(rest)
        beyond = [Said(Fraction(offset), Fraction(1))]
        if len(offset) == 1:
            beyond.append(Said(Fraction(10 * int(offset)), Fraction(1)))
    return [Said(100 * hundreds + b.amount, b.step) for b in beyond]


def place(node: Node, metric: bool) -> list[Station]:
    """A place from any of its forms. Raises `Unusable` for "one plus fifty" in metres."""
    marking = Marking.METRIC if metric else Marking.TENTHS
    if node.data == "plus_station":
        if metric:
            raise Unusable("plus on metric", words(node))
        told = plus_place(node)
    elif node.data == "decimal":
        told = [decimal(node)]
    else:
        told = [Said(amount, Fraction(1)) for amount in bare_place(node)]
        if metric:
            told = told[:1]
    return [at(said.amount, marking) for said in told]


def at(amount: Fraction, marking: Marking) -> Station:
    """The place so far from station zero: one value for "forty", "forty feet" and "forty point
    zero".
    """
    places = 0
    while (amount * 10**places).denominator != 1:
        places += 1
    return Station(Length(amount, marking, Fraction(1, 10**places)))
