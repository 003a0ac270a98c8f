"""From the parts of a parsed sentence to every meaning that they can have."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass
from fractions import Fraction
from itertools import product
from typing import Any

from lark import Token, Tree

from grammar import lengths, numbers
from grammar import meanings as m
from grammar.numbers import Node, Unusable
from grammar.quantities import (
    Direction,
    Distance,
    Length,
    Marking,
    Paces,
    Side,
    Slope,
    SlopeUnit,
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


def meanings_of(node: Node, context: Context) -> Iterator[m.Meaning]:
    """Every meaning of a sentence; more than one where its numbers can be read in two ways.

    Raises `Unusable` for words that are a number in form only.
    """
    return _MEANINGS[node.data](node, context)


# Amounts within a sentence, each as every way it can be read --------------------------------------


def _child(node: Node, *names: str) -> Node | None:
    for child in node.children:
        if isinstance(child, Tree) and child.data in names:
            return child
    return None


_LENGTH = (
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
_SLOPE = ("percent_slope", "degree_slope", "inch_slope", "one_in_slope")


def _rod_values(node: Node, context: Context) -> list[Length]:
    found = _child(node, *_LENGTH, *numbers.BARE, "bare_and", "decimal")
    return [] if found is None else _as_rod_values(found, context)


def _as_rod_values(node: Node, context: Context) -> list[Length]:
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


def _elevations(node: Node, context: Context) -> list[Length]:
    forms = (*_LENGTH, *numbers.WHOLE, "decimal")
    found = [c for c in node.children if isinstance(c, Tree) and c.data in forms][-1]
    return _as_elevations(found, context)


def _as_elevations(found: Node, context: Context) -> list[Length]:
    marking = Marking.METRIC if context.marking is Marking.METRIC else Marking.TENTHS
    if found.data in numbers.WHOLE:
        said = numbers.Said(Fraction(numbers.cardinal(found)), Fraction(1))
    elif found.data == "decimal":
        said = numbers.decimal(found)
    else:
        return lengths.lengths(found, context.marking)
    return [Length(said.amount, marking, said.step)]


def _lengths(node: Node, context: Context) -> list[Length]:
    found = _child(node, *_LENGTH)
    assert found is not None
    return lengths.lengths(found, context.marking)


def _distances(node: Node, context: Context) -> list[Distance]:
    paces = _child(node, "paces")
    if paces is not None:
        count = _child(paces, *numbers.WHOLE)
        assert count is not None
        return [Paces(Fraction(numbers.cardinal(count)))]
    last = [c for c in node.children if isinstance(c, Tree) and c.data in _LENGTH][-1]
    return list(lengths.lengths(last, context.marking))


def _places(node: Node, context: Context) -> list[Station | None]:
    """The place after "at" or "from", or none."""
    found = _child(node, "place")
    return [None] if found is None else list(_stations(found, context))


def _stations(node: Node, context: Context) -> list[Station]:
    for child in node.children:
        if not isinstance(child, Tree):
            continue
        if child.data in ("feet", "metres_only"):
            (length,) = lengths.lengths(child, context.marking)
            metric = length.marking is Marking.METRIC
            return [numbers.at(length.amount, Marking.METRIC if metric else Marking.TENTHS)]
        if child.data in (*numbers.BARE, "decimal", "plus_station"):
            return numbers.place(child, context.marking is Marking.METRIC)
    return []


# Sentences ----------------------------------------------------------------------------------------

Found = Iterator[m.Meaning]


def _has(node: Node, terminal: str) -> bool:
    return any(isinstance(child, Token) and child.type == terminal for child in node.children)


_MARKINGS = {
    "inches": Marking.INCHES,
    "tenths": Marking.TENTHS,
    "feet_only": Marking.TENTHS,
    "metres": Marking.METRIC,
}


def _marking(node: Node) -> Marking | None:
    found = _child(node, *_MARKINGS)
    return None if found is None else _MARKINGS[found.data]


def _rod(node: Node, context: Context) -> Found:
    if _child(node, "feet_only") is not None:
        yield m.SetRod(Marking.INCHES)
        yield m.SetRod(Marking.TENTHS)
    else:
        marking = _marking(node)
        assert marking is not None
        yield m.SetRod(marking)


def _close_elsewhere(node: Node, context: Context) -> Found:
    known, read = _trees(node)
    for elevation, reading in product(_as_elevations(known, context), _as_rod_values(read, context)):
        yield m.CloseLoop(elevation, reading)


def _trees(node: Node) -> list[Node]:
    return [child for child in node.children if isinstance(child, Tree)]


def _accuracy(node: Node, context: Context) -> Found:
    each = (lengths.lengths(tree, context.marking) for tree in _trees(node))
    for accuracy, over in product(*each):
        yield m.SetAccuracy(accuracy, over)


def _turn_check(node: Node, context: Context) -> Found:
    first, second, far = _trees(node)
    each = (*(_as_rod_values(tree, context) for tree in (first, second)), lengths.lengths(far, context.marking))
    for one, other, distance in product(*each):
        yield m.TurnCheck(one, other, distance)


def _of_length(kind: Callable[[Length], m.Meaning]) -> Callable[[Node, Context], Found]:
    return lambda node, context: (kind(length) for length in _lengths(node, context))


def _baseline(node: Node, context: Context) -> Found:
    for reading, place in product(_rod_values(node, context), _places(node, context)):
        yield m.Baseline(reading, place)


def _benchmark(node: Node, context: Context) -> Found:
    for elevation in _elevations(node, context):
        yield m.Benchmark(elevation, None)


def _numbered_benchmark(node: Node, context: Context) -> Found:
    number = _child(node, *numbers.WHOLE)
    assert number is not None
    for elevation in _elevations(node, context):
        yield m.Benchmark(elevation, numbers.cardinal(number))


def _run(run: Node | None, context: Context) -> tuple[Direction, Slope | None]:
    """Which way, and how steep; level without a slope."""
    if run is None or run.data == "run_level":
        return Direction.LEVEL, None
    falls = _has(run, "FALLING") or _has(run, "DOWN")
    told = _child(run, *_SLOPE)
    assert told is not None
    return Direction.FALLING if falls else Direction.RISING, lengths.slope(told, context.marking)


def _turn(node: Node) -> Turn:
    found = _child(node, "turn")
    assert found is not None
    degrees = _child(found, *numbers.WHOLE)
    assert degrees is not None
    side = Side.LEFT if _has(found, "LEFT") else Side.RIGHT
    return Turn(Fraction(numbers.cardinal(degrees)), side)


def _plane(node: Node, context: Context) -> Found:
    first, second = (c for c in node.children if isinstance(c, Tree) and c.data in ("run_slope", "run_level"))
    (way, slope), (other_way, other) = _run(first, context), _run(second, context)
    yield m.DesignPlane(slope, way, _turn(node), other, other_way)


def _sizes(node: Node, context: Context) -> Iterator[tuple[Length, Length]]:
    """Two sides; of "sixteen by twenty feet" the first is in the unit of the second, if that is a whole one."""
    found = _child(node, "size")
    assert found is not None
    one, other = _trees(found)
    for width in lengths.lengths(other, context.marking):
        if one.data not in numbers.WHOLE:
            yield from ((length, width) for length in lengths.lengths(one, context.marking))
        elif width.step == 1:
            yield Length(Fraction(numbers.cardinal(one)), width.marking, Fraction(1)), width
        else:
            raise Unusable("lone number", numbers.words(one))


def _ask_diagonal(node: Node, context: Context) -> Found:
    for length, width in _sizes(node, context):
        yield m.AskDiagonal(length, width)


def _ask_concrete(node: Node, context: Context) -> Found:
    for (length, width), thickness in product(_sizes(node, context), _lengths(node, context)):
        yield m.AskConcrete(length, width, thickness)


def _ask_leg(node: Node, context: Context) -> Found:
    yield m.AskLeg(_turn(node))


def _line(node: Node, context: Context) -> Found:
    direction, slope = _run(_child(node, "run_slope", "run_level"), context)
    readings: list[Length | None] = [None]
    elevations: list[Length | None] = [None]
    if _has(node, "READING"):
        readings = list(_rod_values(node, context))
    if _has(node, "ELEVATION"):
        elevations = list(_elevations(node, context))
    for start, reading, elevation in product(_places(node, context), readings, elevations):
        assert start is not None
        yield m.DesignLine(start, reading, elevation, direction, slope)


def _reading(node: Node, context: Context) -> Found:
    for length, place in product(_rod_values(node, context), _places(node, context)):
        yield m.Reading(length, place)


def _reading_there(node: Node, context: Context) -> Found:
    last = node.children[-1]
    assert isinstance(last, Tree)
    for length, place in product(_as_rod_values(last, context), _stations(node, context)):
        yield m.Reading(length, place)


def _at(kind: Callable[[Station | None], m.Meaning]) -> Callable[[Node, Context], Found]:
    return lambda node, context: (kind(place) for place in _places(node, context))


def _ask_fall(node: Node, context: Context) -> Found:
    told = _child(node, *_SLOPE)
    assert told is not None
    for distance in _distances(node, context):
        yield m.AskFall(distance, lengths.slope(told, context.marking))


def _ask_slope(node: Node, context: Context) -> Found:
    for fall, distance in product(_lengths(node, context), _distances(node, context)):
        yield m.AskSlope(fall, distance)


def _ask_distance(node: Node, context: Context) -> Found:
    for distance in _distances(node, context):
        yield m.AskDistance(distance)


_SLOPE_UNITS = {
    "percent": SlopeUnit.PERCENT,
    "inch_per_foot": SlopeUnit.INCH_PER_FOOT,
    "degrees": SlopeUnit.DEGREES,
    "one_in": SlopeUnit.ONE_IN,
}


def _convert_slope(node: Node, context: Context) -> Found:
    told, unit = _child(node, *_SLOPE), _child(node, *_SLOPE_UNITS)
    assert told is not None
    slope = lengths.slope(told, context.marking)
    yield m.ConvertSlope(slope, None if unit is None else _SLOPE_UNITS[unit.data])


def _convert_length(node: Node, context: Context) -> Found:
    for length in _lengths(node, context):
        yield m.ConvertLength(length, _marking(node))


def _read_back(node: Node, context: Context) -> Found:
    count = _child(node, *numbers.WHOLE)
    yield m.ReadBack(1 if count is None else numbers.cardinal(count))


def _help(node: Node, context: Context) -> Found:
    topic = _child(node, "topic")
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

    places = every(_stations)
    values = [] if _has(node, "STATION") else every(_rod_values)
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
    "backsight": lambda node, context: (m.Backsight(v) for v in _rod_values(node, context)),
    "foresight": lambda node, context: (m.Foresight(v) for v in _rod_values(node, context)),
    "close": lambda node, context: (m.CloseLoop(None, v) for v in _rod_values(node, context)),
    "close_elsewhere": _close_elsewhere,
    "accuracy": _accuracy,
    "turn_check": _turn_check,
    "check": lambda node, context: (m.CheckSetUp(v) for v in _rod_values(node, context)),
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
