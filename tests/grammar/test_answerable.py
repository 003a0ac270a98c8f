"""Whatever is asked digit by digit can be answered in the very words of the question."""

from __future__ import annotations

from fractions import Fraction

from hypothesis import given
from hypothesis import strategies as some

from assistant.wording.asked import names
from grammar import spoken
from grammar.automaton import compile_language
from grammar.meanings import Answer
from grammar.quantities import Length, Marking, Slope, SlopeUnit, Station
from grammar.understand import Context, understand

STEPS = {
    Marking.INCHES: (Fraction(1), Fraction(1, 12), Fraction(1, 24), Fraction(1, 96)),
    Marking.TENTHS: (Fraction(1), Fraction(1, 10), Fraction(1, 100)),
    Marking.METRIC: (Fraction(1), Fraction(1, 10), Fraction(1, 100), Fraction(1, 1000)),
}
MOST = 1000
"""Feet or metres; thousands are not spoken."""


@some.composite
def lengths(draw: some.DrawFn, markings: tuple[Marking, ...] = tuple(Marking)) -> Length:
    marking = draw(some.sampled_from(markings))
    step = draw(some.sampled_from(STEPS[marking]))
    most = draw(some.sampled_from((2, 12, 120, MOST)))
    return Length(step * draw(some.integers(0, int(most / step) - 1)), marking, step)


def answered(words: str, marking: Marking) -> Answer:
    assert compile_language("answer", marking).accepts(words), words
    meaning = understand(words, Context(marking, asking=True))
    assert isinstance(meaning, Answer), words
    return meaning


@given(lengths())
def test_a_length(length: Length) -> None:
    answer = answered(spoken.say_digits(length), length.marking)
    assert names(answer, length)


@given(lengths((Marking.TENTHS, Marking.METRIC)))
def test_a_length_without_its_unit(length: Length) -> None:
    figures = spoken.say_figures(length)
    assert figures is None or names(answered(figures, length.marking), length)


@given(lengths((Marking.TENTHS, Marking.METRIC)))
def test_a_station(distance: Length) -> None:
    answer = answered(spoken.say_digits(Station(distance)), distance.marking)
    assert answer.station is not None and answer.station.distance.amount == distance.amount


@given(some.integers(2, MOST), some.sampled_from(tuple(Marking)))
def test_a_ratio(across: int, marking: Marking) -> None:
    slope = Slope(Fraction(across), SlopeUnit.ONE_IN)
    assert names(answered(spoken.say_digits(slope), marking), slope)
