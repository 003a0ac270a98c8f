"""The parts of a parsed sentence: amounts, places and ways, each in every way it can be read."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from fractions import Fraction

from lark import Token, Tree

from grammar import lengths, numbers
from grammar.numbers import Node, Unusable
from grammar.quantities import (
    Direction,
    Distance,
    Length,
    Marking,
    Paces,
    Side,
    Slope,
    Station,
    Turn,
)


@dataclass(frozen=True)
class Context:
    """What an utterance is understood in: the rod's marking if known, and whether a question is
    open.
    """

    marking: Marking | None = None
    asking: bool = False


def child(node: Node, *names: str) -> Node | None:
    """The first child that is one of these rules."""
    for each in node.children:
        if isinstance(each, Tree) and each.data in names:
            return each
    return None


LENGTH = (
    "feet",
    "feet_inches",
    "feet_and_part",
    "a_foot",
    "an_inch",
    "metres_and_parts",
    "part_of_foot",
    "inches_only",
    "tenths_of_foot",
    "metres_only",
    "metres_and",
    "centimetres",
    "millimetres",
)


SLOPE = ("percent_slope", "degree_slope", "inch_slope", "one_in_slope")


def rod_values(node: Node, context: Context) -> list[Length]:
    """What was read on the rod, from the first child that can be that."""
    found = child(node, *LENGTH, *numbers.BARE, "bare_and", "decimal")
    return [] if found is None else as_rod_values(found, context)


def as_rod_values(node: Node, context: Context) -> list[Length]:
    """A node as a reading of the rod. Raises `Unusable` for twelve inches and more."""
    if node.data in numbers.BARE:
        return numbers.on_rod(node, context.marking)
    if node.data == "bare_and":
        return lengths.bare_with_part(node, context.marking)
    if node.data == "decimal":
        return [lengths.bare_decimal(node, context.marking)]
    found = lengths.lengths(node, context.marking)
    if node.data == "inches_only" and found[0].amount >= 1:
        raise Unusable("inches", numbers.words(node))
    return found


def elevations(node: Node, context: Context) -> list[Length]:
    """An elevation, from the last child that can be one."""
    forms = (*LENGTH, *numbers.WHOLE, "decimal")
    found = [c for c in node.children if isinstance(c, Tree) and c.data in forms][-1]
    return as_elevations(found, context)


def as_elevations(found: Node, context: Context) -> list[Length]:
    """A node as an elevation: a bare number is feet, or metres on a metric job."""
    marking = Marking.METRIC if context.marking is Marking.METRIC else Marking.TENTHS
    if found.data in numbers.WHOLE:
        said = numbers.Said(Fraction(numbers.cardinal(found)), Fraction(1))
    elif found.data == "decimal":
        said = numbers.decimal(found)
    else:
        return lengths.lengths(found, context.marking)
    return [Length(said.amount, marking, said.step)]


def lengths_of(node: Node, context: Context) -> list[Length]:
    """The length with a unit among the children."""
    found = child(node, *LENGTH)
    assert found is not None
    return lengths.lengths(found, context.marking)


def distances(node: Node, context: Context) -> list[Distance]:
    """How far: paced, or the last length with a unit."""
    paces = child(node, "paces")
    if paces is not None:
        count = child(paces, *numbers.WHOLE)
        assert count is not None
        return [Paces(Fraction(numbers.cardinal(count)))]
    last = [c for c in node.children if isinstance(c, Tree) and c.data in LENGTH][-1]
    return list(lengths.lengths(last, context.marking))


def places(node: Node, context: Context) -> list[Station | None]:
    """The place after "at" or "from", or none."""
    found = child(node, "place")
    return [None] if found is None else list(stations(found, context))


def stations(node: Node, context: Context) -> list[Station]:
    """The place among the children."""
    for each in node.children:
        if not isinstance(each, Tree):
            continue
        if each.data in ("feet", "metres_only"):
            (length,) = lengths.lengths(each, context.marking)
            metric = length.marking is Marking.METRIC
            return [numbers.at(length.amount, Marking.METRIC if metric else Marking.TENTHS)]
        if each.data in (*numbers.BARE, "decimal", "plus_station"):
            return numbers.place(each, context.marking is Marking.METRIC)
    return []


def has(node: Node, terminal: str) -> bool:
    """Whether a word of this terminal is among the children."""
    return any(isinstance(each, Token) and each.type == terminal for each in node.children)


def trees(node: Node) -> list[Node]:
    """The children that are more than words."""
    return [each for each in node.children if isinstance(each, Tree)]


def sizes(node: Node, context: Context) -> Iterator[tuple[Length, Length]]:
    """Two sides; of "sixteen by twenty feet" the first is in the unit of the second, if that is a whole one."""
    found = child(node, "size")
    assert found is not None
    one, other = trees(found)
    for width in lengths.lengths(other, context.marking):
        if one.data not in numbers.WHOLE:
            yield from ((length, width) for length in lengths.lengths(one, context.marking))
        elif width.step == 1:
            yield Length(Fraction(numbers.cardinal(one)), width.marking, Fraction(1)), width
        else:
            raise Unusable("lone number", numbers.words(one))


def turn(node: Node) -> Turn:
    """The turn of a leg."""
    found = child(node, "turn")
    assert found is not None
    degrees = child(found, *numbers.WHOLE)
    assert degrees is not None
    side = Side.LEFT if has(found, "LEFT") else Side.RIGHT
    return Turn(Fraction(numbers.cardinal(degrees)), side)


def run(run: Node | None, context: Context) -> tuple[Direction, Slope | None]:
    """Which way, and how steep; level without a slope."""
    if run is None or run.data == "run_level":
        return Direction.LEVEL, None
    falls = has(run, "FALLING") or has(run, "DOWN")
    told = child(run, *SLOPE)
    assert told is not None
    return Direction.FALLING if falls else Direction.RISING, lengths.slope(told, context.marking)
