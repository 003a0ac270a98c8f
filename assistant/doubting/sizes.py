"""Which sizes nothing has that is built with a rod, and which numbers are said more often than their neighbours."""

from __future__ import annotations

from dataclasses import fields
from fractions import Fraction

from assistant.grade.slope import rise_over_run
from assistant.job.records import feet
from assistant.job.state import Job
from grammar.meanings import (
    AskConcrete,
    AskDiagonal,
    AskDistance,
    AskSlope,
    Benchmark,
    Bend,
    Branch,
    ConvertSlope,
    Drop,
    Meaning,
    TurnCheck,
)
from grammar.quantities import Length, Slope, SlopeUnit, Turn

STEEP = Fraction(1, 3)
"""Rise over run beyond which no drain, slab, walk or drive is meant ("one in one" is mostly "one in one hundred"). Our
own choice, like all that follows."""

PACE = 3
"""Feet, about: so thick is no slab, and so narrow none, so near is nothing that is paced."""


def is_out_of_size(job: Job, meaning: Meaning) -> bool:
    """Whether something is to be as it hardly ever is: mostly it was misheard.

    "One hundredth" from the laser is mostly "one hundred", "one hundredth by eighty feet" mostly "one hundred feet by
    eighty", "a foot" mostly "eight paces", "drop" with no line yet mostly "rod".
    """
    match meaning:
        case Bend() | Drop() | Branch() if job.line is None:
            return True
        case Benchmark():
            return 0 < abs(feet(meaning.elevation)) < 1
        case TurnCheck():
            return feet(meaning.distance) < 1
        case AskDistance():
            return isinstance(meaning.distance, Length) and feet(meaning.distance) <= PACE
        case AskDiagonal():
            return min(feet(meaning.length), feet(meaning.width)) <= PACE
        case AskConcrete():
            return min(feet(meaning.length), feet(meaning.width)) <= PACE or feet(meaning.thickness) >= PACE
        case _:
            return is_steep(meaning)


def is_steep(meaning: Meaning) -> bool:
    """Whether something is to run more steeply than anything does; what is only turned into other units may."""
    if isinstance(meaning, AskSlope) and isinstance(meaning.distance, Length):
        return feet(meaning.fall) > STEEP * feet(meaning.distance)
    told = () if isinstance(meaning, ConvertSlope) else _values(meaning)
    return any(isinstance(value, Slope) and rise_over_run(value.amount, value.unit.value) > STEEP for value in told)


DOZEN, FIVE = 12, 5
"""Up to a dozen any "one in so many" is said, beyond it mostly multiples of either; of degrees mostly fives."""


def odd_numbers(meaning: Meaning) -> int:
    """How many ratios and angles it has that are seldom said: "one in eighty", not "one in eighty eight"."""
    return sum(_is_odd(value) for value in _values(meaning))


def _is_odd(value: object) -> bool:
    match value:
        case Slope(amount=amount, unit=SlopeUnit.ONE_IN):
            return amount > DOZEN and amount % DOZEN != 0 and amount % FIVE != 0
        case Turn(degrees=degrees):
            return degrees % FIVE != 0
        case _:
            return False


def _values(meaning: Meaning) -> list[object]:
    return [getattr(meaning, field.name) for field in fields(meaning)]
