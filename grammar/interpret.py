"""From the parts of a parsed sentence to every meaning that they can have."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from fractions import Fraction
from itertools import product
from typing import Any

from lark import Tree

from grammar import lengths, numbers, parts
from grammar import meanings as m
from grammar.numbers import Node, Unusable
from grammar.parts import Context
from grammar.quantities import (
    Length,
    Marking,
    SlopeUnit,
    Station,
)


def meanings_of(node: Node, context: Context) -> Iterator[m.Meaning]:
    """Every meaning of a sentence; more than one where its numbers can be read in two ways.

    Raises `Unusable` for words that are a number in form only.
    """
    return _MEANINGS[node.data](node, context)


# Amounts within a sentence, each as every way it can be read --------------------------------------


# Sentences ----------------------------------------------------------------------------------------

Found = Iterator[m.Meaning]


_MARKINGS = {
    "inches": Marking.INCHES,
    "tenths": Marking.TENTHS,
    "feet_only": Marking.TENTHS,
    "metres": Marking.METRIC,
}


def _marking(node: Node) -> Marking | None:
    found = parts.child(node, *_MARKINGS)
    return None if found is None else _MARKINGS[found.data]


def _rod(node: Node, context: Context) -> Found:
    if parts.child(node, "feet_only") is not None:
        yield m.SetRod(Marking.INCHES)
        yield m.SetRod(Marking.TENTHS)
    else:
        marking = _marking(node)
        assert marking is not None
        yield m.SetRod(marking)


def _close_elsewhere(node: Node, context: Context) -> Found:
    known, read = parts.trees(node)
    for elevation, reading in product(parts.as_elevations(known, context), parts.as_rod_values(read, context)):
        yield m.CloseLoop(elevation, reading)


def _accuracy(node: Node, context: Context) -> Found:
    each = (lengths.lengths(tree, context.marking) for tree in parts.trees(node))
    for accuracy, over in product(*each):
        yield m.SetAccuracy(accuracy, over)


def _turn_check(node: Node, context: Context) -> Found:
    first, second, far = parts.trees(node)
    each = (*(parts.as_rod_values(tree, context) for tree in (first, second)), lengths.lengths(far, context.marking))
    for one, other, distance in product(*each):
        yield m.TurnCheck(one, other, distance)


def _of_length(kind: Callable[[Length], m.Meaning]) -> Callable[[Node, Context], Found]:
    return lambda node, context: (kind(length) for length in parts.lengths_of(node, context))


def _baseline(node: Node, context: Context) -> Found:
    for reading, place in product(parts.rod_values(node, context), parts.places(node, context)):
        yield m.Baseline(reading, place)


def _benchmark(node: Node, context: Context) -> Found:
    for elevation in parts.elevations(node, context):
        yield m.Benchmark(elevation, None)


def _numbered_benchmark(node: Node, context: Context) -> Found:
    number = parts.child(node, *numbers.WHOLE)
    assert number is not None
    for elevation in parts.elevations(node, context):
        yield m.Benchmark(elevation, numbers.cardinal(number))


def _plane(node: Node, context: Context) -> Found:
    first, second = (c for c in node.children if isinstance(c, Tree) and c.data in ("run_slope", "run_level"))
    (way, slope), (other_way, other) = parts.run(first, context), parts.run(second, context)
    yield m.DesignPlane(slope, way, parts.turn(node), other, other_way)


def _ask_diagonal(node: Node, context: Context) -> Found:
    for length, width in parts.sizes(node, context):
        yield m.AskDiagonal(length, width)


def _ask_concrete(node: Node, context: Context) -> Found:
    for (length, width), thickness in product(parts.sizes(node, context), parts.lengths_of(node, context)):
        yield m.AskConcrete(length, width, thickness)


def _ask_leg(node: Node, context: Context) -> Found:
    yield m.AskLeg(parts.turn(node))


def _line(node: Node, context: Context) -> Found:
    direction, slope = parts.run(parts.child(node, "run_slope", "run_level"), context)
    readings: list[Length | None] = [None]
    elevations: list[Length | None] = [None]
    if parts.has(node, "READING"):
        readings = list(parts.rod_values(node, context))
    if parts.has(node, "ELEVATION"):
        elevations = list(parts.elevations(node, context))
    for start, reading, elevation in product(parts.places(node, context), readings, elevations):
        assert start is not None
        yield m.DesignLine(start, reading, elevation, direction, slope)


def _reading(node: Node, context: Context) -> Found:
    for length, place in product(parts.rod_values(node, context), parts.places(node, context)):
        yield m.Reading(length, place)


def _reading_there(node: Node, context: Context) -> Found:
    last = node.children[-1]
    assert isinstance(last, Tree)
    for length, place in product(parts.as_rod_values(last, context), parts.stations(node, context)):
        yield m.Reading(length, place)


def _at(kind: Callable[[Station | None], m.Meaning]) -> Callable[[Node, Context], Found]:
    return lambda node, context: (kind(place) for place in parts.places(node, context))


def _ask_fall(node: Node, context: Context) -> Found:
    told = parts.child(node, *parts.SLOPE)
    assert told is not None
    for distance in parts.distances(node, context):
        yield m.AskFall(distance, lengths.slope(told, context.marking))


def _ask_slope(node: Node, context: Context) -> Found:
    for fall, distance in product(parts.lengths_of(node, context), parts.distances(node, context)):
        yield m.AskSlope(fall, distance)


def _ask_distance(node: Node, context: Context) -> Found:
    for distance in parts.distances(node, context):
        yield m.AskDistance(distance)


_SLOPE_UNITS = {
    "percent": SlopeUnit.PERCENT,
    "inch_per_foot": SlopeUnit.INCH_PER_FOOT,
    "degrees": SlopeUnit.DEGREES,
    "one_in": SlopeUnit.ONE_IN,
}


def _convert_slope(node: Node, context: Context) -> Found:
    told, unit = parts.child(node, *parts.SLOPE), parts.child(node, *_SLOPE_UNITS)
    assert told is not None
    slope = lengths.slope(told, context.marking)
    yield m.ConvertSlope(slope, None if unit is None else _SLOPE_UNITS[unit.data])


def _convert_length(node: Node, context: Context) -> Found:
    for length in parts.lengths_of(node, context):
        yield m.ConvertLength(length, _marking(node))


def _read_back(node: Node, context: Context) -> Found:
    count = parts.child(node, *numbers.WHOLE)
    yield m.ReadBack(1 if count is None else numbers.cardinal(count))


def _help(node: Node, context: Context) -> Found:
    topic = parts.child(node, "topic")
    yield m.Help(None if topic is None else numbers.words(topic))


def _bare_answer(node: Node, context: Context) -> Found:
    """A length, a place, or both; where neither is one value, every one it can be."""
    misses: list[Unusable] = []

    def every(read: Callable[[Node, Context], list[Any]]) -> list[Any]:
        try:
            return read(node, context)
        except Unusable as unusable:
            misses.append(unusable)
            return []

    places = every(parts.stations)
    values = [] if parts.has(node, "STATION") else every(parts.rod_values)
    station = places[0] if len(places) == 1 else None
    if station is not None or len(values) == 1:
        yield m.Answer(values[0] if len(values) == 1 else None, station)
    elif values or places:
        yield from (m.Answer(value, None) for value in values)
        yield from (m.Answer(None, place) for place in places if not values)
    else:
        raise misses[-1]


def _plain(meaning: m.Meaning) -> Callable[[Node, Context], Found]:
    return lambda node, context: iter((meaning,))


_MEANINGS: dict[str, Callable[[Node, Context], Found]] = {
    "rod": _rod,
    "metric_rod": _plain(m.SetRod(Marking.METRIC)),
    "rod_length": _of_length(m.SetRodLength),
    "pace": _of_length(m.SetPace),
    "tolerance": _of_length(m.SetTolerance),
    "surprise": _of_length(m.SetSurprise),
    "baseline": _baseline,
    "benchmark": _benchmark,
    "numbered_benchmark": _numbered_benchmark,
    "backsight": lambda node, context: (m.Backsight(v) for v in parts.rod_values(node, context)),
    "foresight": lambda node, context: (m.Foresight(v) for v in parts.rod_values(node, context)),
    "close": lambda node, context: (m.CloseLoop(None, v) for v in parts.rod_values(node, context)),
    "close_elsewhere": _close_elsewhere,
    "accuracy": _accuracy,
    "turn_check": _turn_check,
    "check": lambda node, context: (m.CheckSetUp(v) for v in parts.rod_values(node, context)),
    "line": _line,
    "plane": _plane,
    "below": _of_length(m.SetBelow),
    "dig_to_grade": _plain(m.SetBelow(Length(Fraction(0), Marking.INCHES, Fraction(1, 12)))),
    "ask_leg": _ask_leg,
    "ask_diagonal": _ask_diagonal,
    "ask_concrete": _ask_concrete,
    "ask_slope_got": _plain(m.AskSlopeGot()),
    "level_line": _line,
    "reading": _reading,
    "reading_there": _reading_there,
    "ask_grade_rod": _at(m.AskGradeRod),
    "ask_to_go": _at(m.AskToGo),
    "ask_fall": _ask_fall,
    "ask_slope": _ask_slope,
    "ask_distance": _ask_distance,
    "convert_slope": _convert_slope,
    "convert_length": _convert_length,
    "bare_convert_slope": _convert_slope,
    "bare_convert_length": _convert_length,
    "read_back": _read_back,
    "status": _plain(m.AskStatus()),
    "scratch": _plain(m.Scratch()),
    "again": _plain(m.Again()),
    "confirm": _plain(m.Confirm()),
    "cancel": _plain(m.Cancel()),
    "help": _help,
    "sleep": _plain(m.Sleep()),
    "wake": _plain(m.Wake()),
    "stop": _plain(m.Stop()),
    "bare_answer": _bare_answer,
}
