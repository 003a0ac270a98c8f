"""The parts of a parsed sentence: amounts, places and ways, each in every way it can be read."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from fractions import Fraction

from lark import Token, Tree

from grammar import lengths, numbers
from grammar.numbers import Node, Unusable
from grammar.quantities import (
    Bearing,
    Direction,
    Distance,
    Length,
    Marking,
    Offset,
    Paces,
    Place,
    Side,
    SideSlope,
    Slope,
    Spot,
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
    "half_foot",
    "inches_only",
    "one_part_inches",
    "tenths_of_foot",
    "metres_only",
    "metres_and",
    "centimetres",
    "millimetres",
)


ROD_VALUES = (*LENGTH, *numbers.BARE, "bare_and", "decimal")
"""Nodes that can be a reading of the rod."""

SLOPE = ("percent_slope", "degree_slope", "inch_slope", "one_in_slope")


def rod_values(node: Node, context: Context) -> list[Length]:
    """What was read on the rod, from the first child that can be that."""
    found = child(node, *ROD_VALUES)
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


def every_distance(node: Node, context: Context) -> list[list[Distance]]:
    """Each distance among the children, in every way that it can be read."""
    found = [c for c in node.children if isinstance(c, Tree) and c.data in ("paces", *LENGTH)]
    return [distances(Tree("far", [each]), context) for each in found]


def places(node: Node, context: Context) -> list[Place | None]:
    """The place after "at", with a name or along the line, or none."""
    if child(node, "place", "spot") is None:
        return [None]
    return [*stands(node, context)]


def stands(node: Node, context: Context) -> list[Place]:
    """Where something stands, from the children that are a place: a spot, or a station and its offset."""
    named = child(node, "spot")
    if named is not None:
        return [spot(named)]
    return [*beside(node, context)]


def beside(node: Node, context: Context) -> list[Station]:
    """A station, with the offset that is said after it."""
    along = child(node, "place")
    aside = child(node, "aside")
    offset = None if aside is None else _offset(aside, context)
    found = stations(node if along is None else along, context)
    return [Station(station.distance, offset) for station in found]


def spot(node: Node) -> Spot:
    """A place with a name of its own."""
    (name,) = (str(each) for each in node.children if isinstance(each, Token) and each.type == "SPOT")
    number = child(node, *numbers.WHOLE)
    return Spot(name, None if number is None else numbers.cardinal(number))


def _offset(node: Node, context: Context) -> Offset | None:
    """How far beside the line; nothing for zero."""
    far = stations(node, context)[0].distance if not has(node, "FOOT") else _feet_and_part(node)
    if far.amount == 0:
        return None
    return Offset(far, Side.LEFT if has(node, "LEFT") else Side.RIGHT)


def _feet_and_part(node: Node) -> Length:
    whole, extra = trees(node)
    return numbers.at(numbers.cardinal(whole) + numbers.part(extra).amount, Marking.TENTHS).distance


def stations(node: Node, context: Context) -> list[Station]:
    """A place along the line, from the child that is one."""
    for each in node.children:
        if not isinstance(each, Tree):
            continue
        if each.data in ("feet", "metres_only"):
            (length,) = lengths.lengths(each, context.marking)
            metric = length.marking is Marking.METRIC
            return [numbers.at(length.amount, Marking.METRIC if metric else Marking.TENTHS)]
        if each.data in (*numbers.BARE, "no_place", "decimal", "plus_station"):
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


def bearings(node: Node) -> list[Bearing]:
    """Every bearing among the children. Raises `Unusable` where there is none so far from north."""
    return [_bearing(tree) for tree in trees(node) if tree.data == "bearing"]


_TOWARDS = {"NORTH": 0, "EAST": 90, "SOUTH": 180, "WEST": 270}


def _bearing(node: Node) -> Bearing:
    said = child(node, *numbers.WHOLE)
    degrees = None if said is None else numbers.cardinal(said)
    named = [at for name, at in _TOWARDS.items() if has(node, name)]
    if degrees is None:
        return Bearing(Fraction(named[0]))
    if degrees > (90 if named else 360):
        raise Unusable("not a number", numbers.words(node))
    if not named:
        return Bearing(Fraction(degrees % 360))
    south, west = has(node, "SOUTH"), has(node, "WEST")
    clockwise = south == west
    return Bearing(Fraction((180 * south + (degrees if clockwise else -degrees)) % 360))


def number(node: Node) -> int | None:
    """The number of a benchmark, if it is said."""
    found = child(node, "number")
    if found is None:
        return None
    (whole,) = trees(found)
    return numbers.cardinal(whole)


def count(node: Node) -> int:
    """The whole number among the children."""
    found = child(node, *numbers.WHOLE)
    assert found is not None
    return numbers.cardinal(found)


def yards(node: Node) -> Fraction:
    """Cubic yards."""
    found = child(node, "yards")
    assert found is not None
    return amount(found)


def amount(node: Node) -> Fraction:
    """The number among the children: a whole, a decimal, or a whole and a part."""
    total = Fraction(0)
    for each in trees(node):
        if each.data in numbers.WHOLE:
            total += numbers.cardinal(each)
        elif each.data in ("decimal", "part"):
            total += (numbers.decimal(each) if each.data == "decimal" else numbers.part(each)).amount
    return total


def bank(node: Node) -> SideSlope:
    """A bank: "two to one" is two across for one up."""
    found = child(node, "side_slope")
    assert found is not None
    (up,) = (numbers.value(each) for each in found.children if isinstance(each, Token) and each.type == "DIGIT")
    across = amount(found)
    if up != 1 or across == 0:
        raise Unusable("not a number", numbers.words(found))
    return SideSlope(across)


def steepness(node: Node, context: Context) -> Slope:
    """The slope among the children."""
    told = child(node, *SLOPE)
    assert told is not None
    return lengths.slope(told, context.marking)


def run(run: Node | None, context: Context) -> tuple[Direction, Slope | None]:
    """Which way, and how steep; level without a slope."""
    if run is None or run.data == "run_level":
        return Direction.LEVEL, None
    falls = has(run, "FALLING") or has(run, "DOWN")
    return Direction.FALLING if falls else Direction.RISING, steepness(run, context)
