"""From the parts of a parsed sentence to every meaning that they can have."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator
from fractions import Fraction
from itertools import product
from typing import Any

from lark import Token, Tree

from grammar import lengths, numbers, parts
from grammar import meanings as m
from grammar.numbers import Node, Unusable
from grammar.parts import Context
from grammar.quantities import Across, Bearing, Length, Marking, Slope, SlopeUnit, Turn, turn_between

Alone = Callable[[str, Context], "m.Meaning | m.Miss"]
"""Understands words by themselves."""


def meanings_of(node: Node, context: Context, alone: Alone) -> Iterator[m.Meaning]:
    """Every meaning of a sentence; more than one where its numbers can be read in two ways.

    `alone` reads each of two numbers in one breath by itself. Raises `Unusable` for words that are a number in form
    only.
    """
    return _swap(node, context, alone) if node.data == "swap" else _MEANINGS[node.data](node, context)


Found = Iterator[m.Meaning]
Reader = Callable[[Node, Context], Iterable[Any]]
"""Reads one part of a sentence, every way that it can be."""


def _of(kind: Callable[..., m.Meaning], *readers: Reader) -> Callable[[Node, Context], Found]:
    """A meaning of parts that stand for themselves: one for each way in which all can be read."""
    return lambda node, context: (kind(*parts) for parts in product(*(read(node, context) for read in readers)))


def _one(read: Callable[[Node], Any]) -> Reader:
    """A part that can be read in one way, whatever the context."""
    return lambda node, context: [read(node)]


def _steepness(node: Node, context: Context) -> list[Slope]:
    return [parts.steepness(node, context)]


# Setting up ---------------------------------------------------------------------------------------


_MARKINGS = {
    "inches": Marking.INCHES,
    "one_inch": Marking.INCHES,
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


def _two_readings(node: Node, context: Context) -> Iterator[tuple[Length, Length]]:
    """The two readings around "then"."""
    at = next(n for n, child in enumerate(node.children) if isinstance(child, Token) and child.type == "THEN")
    before, after = node.children[at - 1], node.children[at + 1]
    assert isinstance(before, Tree) and isinstance(after, Tree)
    return product(parts.as_rod_values(before, context), parts.as_rod_values(after, context))


def _turn_check(node: Node, context: Context) -> Found:
    far = lengths.lengths(parts.trees(node)[-1], context.marking)
    for (first, second), distance in product(_two_readings(node, context), far):
        yield m.TurnCheck(first, second, distance)


def _peg_test(node: Node, context: Context) -> Found:
    middle = parts.has(node, "MIDDLE")
    away: Iterable[tuple[Length, ...]] = [()]
    if parts.has(node, "FIRST"):
        away = product(*(lengths.lengths(tree, context.marking) for tree in parts.trees(node)[:2]))
    for (first, second), where in product(_two_readings(node, context), away):
        yield m.PegTest(first, second, middle, *where)


def _check_benchmark(node: Node, context: Context) -> Found:
    numbered, read = parts.trees(node)
    for reading in parts.as_rod_values(read, context):
        yield m.CheckBenchmark(numbers.cardinal(numbered), reading)


def _beam_check(node: Node, context: Context) -> Found:
    for (first, second), distance in product(_two_readings(node, context), parts.distances(node, context)):
        yield m.BeamCheck(first, second, distance)


def _line(node: Node, context: Context) -> Found:
    return iter(_lines(node, context))


def _lines(node: Node, context: Context) -> list[m.DesignLine]:
    direction, slope = parts.run(parts.child(node, "run_slope", "run_level"), context)
    readings: list[Length | None] = [None]
    elevations: list[Length | None] = [None]
    if parts.has(node, "READING"):
        readings = list(parts.rod_values(node, context))
    if parts.has(node, "ELEVATION"):
        elevations = list(parts.elevations(node, context))
    starts = parts.beside(node, context)
    return [m.DesignLine(*told, direction, slope) for told in product(starts, readings, elevations)]


def _along(kind: Callable[..., m.Meaning]) -> Callable[[Node, Context], Found]:
    """A place on the line, and how the line goes on from there."""

    def found(node: Node, context: Context) -> Found:
        direction, slope = parts.run(parts.child(node, "run_slope", "run_level"), context)
        return (kind(station, direction, slope) for station in parts.beside(node, context))

    return found


def _across(across: Across) -> Callable[[Node, Context], Found]:
    return lambda node, context: iter((m.SetAcross(parts.steepness(node, context), across),))


def _cross(node: Node, context: Context) -> Found:
    return _across(Across.LEFT if parts.has(node, "LEFT") else Across.RIGHT)(node, context)


def _plane(node: Node, context: Context) -> Found:
    first, second = (c for c in node.children if isinstance(c, Tree) and c.data in ("run_slope", "run_level"))
    (way, slope), (other_way, other) = parts.run(first, context), parts.run(second, context)
    yield m.DesignPlane(slope, way, parts.turn(node), other, other_way)


def _plane_by_bearings(node: Node, context: Context) -> Found:
    runs = (parts.run(tree, context) for tree in parts.trees(node) if tree.data in ("run_slope", "run_level"))
    (way, slope), (other_way, other) = runs
    one, two = parts.bearings(node)
    yield m.DesignPlane(slope, way, turn_between(one, two), other, other_way, one)


def _leg(node: Node) -> Turn | Bearing:
    found = parts.bearings(node)
    return found[0] if found else parts.turn(node)


def _third_leg(node: Node, context: Context) -> Found:
    direction, slope = parts.run(parts.child(node, "run_slope", "run_level"), context)
    yield m.ThirdLeg(_leg(node), slope, direction)


def _sights(node: Node, context: Context) -> Found:
    at = parts.child(node, *numbers.WHOLE)
    for back, ahead in product(*parts.every_distance(node, context)):
        yield m.SetSights(back, ahead, None if at is None else numbers.cardinal(at))


def _laser_class(node: Node, context: Context) -> Found:
    letter = next((name for name in ("A", "B", "R") if parts.has(node, name)), "")
    (digit,) = (numbers.value(token) for token in node.children if isinstance(token, Token) and token.type == "DIGIT")
    yield m.SetLaserClass(f"{digit}{letter}")


def _order(node: Node, context: Context) -> Found:
    yield m.SetOrder(next(n for n, name in enumerate(("FIRST", "SECOND", "THIRD"), 1) if parts.has(node, name)))


def _pipe(node: Node, context: Context) -> Found:
    def part(name: str) -> list[Length | None]:
        found = parts.child(node, name)
        return [None] if found is None else [*parts.lengths_of(found, context)]

    for inside, wall, bedding in product(parts.lengths_of(node, context), part("wall"), part("bedding")):
        yield m.SetPipe(inside, wall, bedding)


def _bulking(node: Node, context: Context) -> Found:
    percent = parts.amount(node)
    yield m.SetBulking(-percent if parts.has(node, "SHRINK") else percent)


# Working ------------------------------------------------------------------------------------------


def _reading_there(node: Node, context: Context) -> Found:
    last = node.children[-1]
    assert isinstance(last, Tree)
    for length, place in product(parts.as_rod_values(last, context), parts.stands(node, context)):
        yield m.Reading(length, place)


# Asking -------------------------------------------------------------------------------------------


def _ask_diagonal(node: Node, context: Context) -> Found:
    for length, width in parts.sizes(node, context):
        yield m.AskDiagonal(length, width)


def _ask_concrete(node: Node, context: Context) -> Found:
    for (length, width), thickness in product(parts.sizes(node, context), parts.lengths_of(node, context)):
        yield m.AskConcrete(length, width, thickness)


def _ask_part(node: Node, context: Context) -> Found:
    (part,) = (tree.data for tree in parts.trees(node) if tree.data in ("invert", "top_of_pipe", "trench_bottom"))
    for place in parts.places(node, context):
        yield m.AskPart(str(part).replace("_", " "), place)


def _ask_limit(node: Node, context: Context) -> Found:
    named = {"BUILDING": "building", "RAMP": "ramp", "CROSS": "cross slope"}
    yield m.AskLimit(next(limit for terminal, limit in named.items() if parts.has(node, terminal)))


def _ask_loads(node: Node, context: Context) -> Found:
    yards = parts.child(node, "yards")
    yield m.AskLoads(None if yards is None else parts.amount(yards))


def _ask_end_areas(node: Node, context: Context) -> Found:
    first, *between, second = (parts.amount(tree) for tree in parts.trees(node) if tree.data == "square_feet")
    for distance in parts.distances(node, context):
        yield m.AskEndAreas(first, second, distance, *between)


def _ask_slope_between(node: Node, context: Context) -> Found:
    start, end = parts.trees(node)[:2]
    ends = product(parts.as_elevations(start, context), parts.as_elevations(end, context))
    for (one, other), distance in product(ends, parts.distances(node, context)):
        yield m.AskSlopeBetween(one, other, distance)


def _ask_total(node: Node, context: Context) -> Found:
    each = (lengths.lengths(tree, context.marking) for tree in parts.trees(node))
    for first, second in product(*each):
        yield m.AskTotal(first, second, parts.has(node, "MINUS"))


_SLOPE_UNITS = {
    "percent": SlopeUnit.PERCENT,
    "inch_per_foot": SlopeUnit.INCH_PER_FOOT,
    "degrees": SlopeUnit.DEGREES,
    "one_in": SlopeUnit.ONE_IN,
}


def _convert_slope(node: Node, context: Context) -> Found:
    unit = parts.child(node, *_SLOPE_UNITS)
    yield m.ConvertSlope(parts.steepness(node, context), None if unit is None else _SLOPE_UNITS[unit.data])


# Talking ------------------------------------------------------------------------------------------


def _correct(node: Node, context: Context) -> Found:
    bare, placed = parts.child(node, "bare_answer"), parts.child(node, "place", "spot")
    places = parts.places(node, context)
    if bare is None:
        readings: Iterable[Length | None] = parts.rod_values(node, context) or [None]
        yield from (m.Correct(*told) for told in product(readings, places))
        return
    figures = parts.child(bare, *numbers.FIGURES, *numbers.PAIR) is not None and not parts.has(bare, "STATION")
    if figures and context.marking in (Marking.METRIC, None):
        parts.rod_values(bare, context)  # figures alone are a reading, and of what is not known
    for answer, place in product(_bare_answer(bare, context), places):
        if placed is not None:
            if answer.length is None:
                raise Unusable("not a number", numbers.words(bare))
            yield m.Correct(answer.length, place)
        elif answer.length is not None and answer.station is not None:
            yield m.Correct(bare=answer)
        else:
            yield m.Correct(answer.length, answer.station, answer.slope)


def _swap(node: Node, context: Context, alone: Alone) -> Found:
    told = [[*_bare_answer(each, context)] for each in parts.trees(node)[1:]]
    if told:
        wrong, right = [*_bare_answer(parts.trees(node)[0], context)], told[0]
        yield m.Swap(tuple(product(wrong, right)))
        return
    words = numbers.words(node).split()
    words = words[words.index("not") + 1 :]
    answering = parts.Context(context.marking, asking=True)
    halves = ((alone(" ".join(half), answering) for half in (words[:at], words[at:])) for at in range(1, len(words)))
    pairs = tuple((one, other) for one, other in halves if isinstance(one, m.Answer) and isinstance(other, m.Answer))
    if not pairs:
        raise Unusable("half a correction", numbers.words(node))
    yield m.Swap(pairs)


def _change_reading(node: Node, context: Context) -> Found:
    before, after = _around_to(node)
    was: Iterable[Length | None] = parts.rod_values(before, context) or [None]
    to: Iterable[Length | None] = parts.rod_values(after, context) or [None]
    yield from (m.ChangeReading(*told) for told in product(was, parts.places(before, context), to))


def _change_place(node: Node, context: Context) -> Found:
    yield from (m.ChangePlace(*told) for told in product(*(parts.beside(half, context) for half in _around_to(node))))


def _around_to(node: Node) -> tuple[Node, Node]:
    """What stands before "to", and what from it on."""
    types = [each.type if isinstance(each, Token) else "" for each in node.children]
    at = types.index("TO") if "TO" in types else len(types)
    return Tree(node.data, node.children[:at]), Tree(node.data, node.children[at:])


def _read_back(node: Node, context: Context) -> Found:
    count = parts.child(node, *numbers.WHOLE)
    yield m.ReadBack(1 if count is None else numbers.cardinal(count))


def _help(node: Node, context: Context) -> Found:
    topic = parts.child(node, "topic")
    yield m.Help(None if topic is None else numbers.words(topic))


def _bare_answer(node: Node, context: Context) -> Iterator[m.Answer]:
    """A length, a place, or both, or a slope; where neither is one value, every one it can be."""
    if parts.child(node, *parts.SLOPE):
        yield m.Answer(slope=parts.steepness(node, context))
        return
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
    "rod_length": _of(m.SetRodLength, parts.lengths_of),
    "pace": _of(m.SetPace, parts.lengths_of),
    "tolerance": _of(m.SetTolerance, parts.lengths_of),
    "surprise": _of(m.SetSurprise, parts.lengths_of),
    "baseline": _of(m.Baseline, parts.rod_values, parts.places),
    "benchmark": _of(lambda elevation: m.Benchmark(elevation, None), parts.elevations),
    "numbered_benchmark": _of(m.Benchmark, parts.elevations, _one(parts.count)),
    "backsight": _of(m.Backsight, parts.rod_values, _one(parts.number)),
    "foresight": _of(m.Foresight, parts.rod_values),
    "close": _of(lambda reading: m.CloseLoop(None, reading), parts.rod_values),
    "close_elsewhere": _close_elsewhere,
    "allowance": _of(m.SetAllowance, parts.lengths_of, _one(lambda node: parts.has(node, "KILOMETRE"))),
    "order": _order,
    "loop_length": _of(m.SetLoopLength, parts.lengths_of),
    "third_leg": _third_leg,
    "sights": _sights,
    "adjust": _of(m.SetAdjustment, _one(lambda node: parts.has(node, "DISTANCE"))),
    "laser_class": _laser_class,
    "plane_by_bearings": _plane_by_bearings,
    "accuracy": _accuracy,
    "receiver": _of(m.SetReceiver, parts.lengths_of),
    "sight": _of(m.SetSight, parts.distances),
    "range": _of(m.SetRange, _steepness),
    "distances": _of(m.SetDistances, _one(lambda node: parts.has(node, "PACED"))),
    "turn_check": _turn_check,
    "check": _of(m.CheckSetUp, parts.rod_values),
    "check_benchmark": _check_benchmark,
    "peg_test": _peg_test,
    "beam_check": _beam_check,
    "line": _line,
    "level_line": _line,
    "bend": _along(m.Bend),
    "drop": _of(m.Drop, parts.lengths_of, parts.beside),
    "branch": _along(m.Branch),
    "cross": _cross,
    "crown": _across(Across.CROWN),
    "swale": _across(Across.SWALE),
    "level_across": _plain(m.SetAcross(None, None)),
    "plane": _plane,
    "steepest_plane": _of(m.SteepestPlane, _steepness, _one(parts.turn)),
    "plane_point": _of(m.PlanePoint, parts.rod_values, parts.beside),
    "below": _of(m.SetBelow, parts.lengths_of),
    "dig_to_grade": _plain(m.SetBelow(Length(Fraction(0), Marking.INCHES, Fraction(1, 12)))),
    "pipe": _pipe,
    "boards": _of(m.SetBoards, parts.lengths_of),
    "slope_stakes": _of(m.SetSlopeStakes, parts.lengths_of, _one(parts.bank)),
    "bulking": _bulking,
    "load": _of(m.SetLoad, _one(parts.yards)),
    "trip": _of(m.SetTrip, _one(parts.count)),
    "reading": _of(m.Reading, parts.rod_values, parts.places),
    "reading_there": _reading_there,
    "stake": _of(m.Stake, parts.rod_values, parts.places),
    "blue_top": _of(m.BlueTop, parts.rod_values, parts.places),
    "catch": _of(m.Catch, parts.rod_values, parts.beside),
    "ask_grade_rod": _of(m.AskGradeRod, parts.places),
    "ask_to_go": _of(m.AskToGo, parts.places),
    "ask_leg": _of(m.AskLeg, _one(_leg)),
    "ask_adjusted": _of(m.AskAdjusted, _one(parts.count)),
    "ask_laser": _plain(m.AskLaser()),
    "ask_slope_got": _plain(m.AskSlopeGot()),
    "ask_board": _of(m.AskBoard, parts.places),
    "ask_meeting": _of(m.AskMeeting, _lines),
    "ask_how_sure": _plain(m.AskHowSure()),
    "ask_part": _ask_part,
    "ask_cover": _of(m.AskCover, parts.places),
    "ask_least_pipe": _of(m.AskLeastPipe, parts.lengths_of),
    "ask_flow": _of(m.AskFlow, parts.lengths_of, _steepness, _one(lambda node: parts.has(node, "HALF"))),
    "ask_limit": _ask_limit,
    "ask_dirt": _plain(m.AskDirt()),
    "ask_loads": _ask_loads,
    "ask_end_areas": _ask_end_areas,
    "ask_fall": _of(m.AskFall, parts.distances, _steepness),
    "ask_slope": _of(m.AskSlope, parts.lengths_of, parts.distances),
    "ask_slope_between": _ask_slope_between,
    "ask_distance": _of(m.AskDistance, parts.distances),
    "ask_paces": _of(m.AskPaces, parts.lengths_of),
    "ask_total": _ask_total,
    "ask_curvature": _of(m.AskCurvature, parts.lengths_of),
    "ask_diagonal": _ask_diagonal,
    "ask_concrete": _ask_concrete,
    "convert_slope": _convert_slope,
    "convert_length": _of(m.ConvertLength, parts.lengths_of, _one(_marking)),
    "bare_convert_slope": _convert_slope,
    "bare_convert_length": _of(m.ConvertLength, parts.lengths_of, _one(_marking)),
    "read_back": _read_back,
    "status": _plain(m.AskStatus()),
    "scratch": _plain(m.Scratch()),
    "correct": _correct,
    "change_reading": _change_reading,
    "change_place": _change_place,
    "again": _plain(m.Again()),
    "confirm": _plain(m.Confirm()),
    "cancel": _plain(m.Cancel()),
    "help": _help,
    "sleep": _plain(m.Sleep()),
    "wake": _plain(m.Wake()),
    "stop": _plain(m.Stop()),
    "bare_answer": _bare_answer,
}
