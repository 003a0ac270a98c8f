"""What is spoken or shown is understood as the same amount: exhaustively, and by hypothesis."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st
from numerals import value_of

from grammar import spoken
from grammar.meanings import Answer, AskFall, AskGradeRod, ConvertSlope, Meaning, Miss, Reading
from grammar.quantities import Length, Marking, Slope, SlopeUnit, Station
from grammar.understand import Context, understand

INCH = Fraction(1, 12)


def lengths(marking: Marking, step: Fraction, beyond: int) -> list[Length]:
    """Every length from zero up to `beyond` (feet or metres), said to `step`."""
    return [Length(n * step, marking, step) for n in range(int(beyond / step) + 1)]


RANGES = {
    "hundredths of a foot": lengths(Marking.TENTHS, Fraction(1, 100), 100)[:-1],
    "tenths of a foot": lengths(Marking.TENTHS, Fraction(1, 10), 100),
    "feet on a rod in tenths": lengths(Marking.TENTHS, Fraction(1), 99),
    "sixteenths of an inch": lengths(Marking.INCHES, INCH / 16, 25),
    "eighths of an inch": lengths(Marking.INCHES, INCH / 8, 25),
    "inches": lengths(Marking.INCHES, INCH, 25),
    "feet on a rod in inches": lengths(Marking.INCHES, Fraction(1), 25),
    "millimetres": lengths(Marking.METRIC, Fraction(1, 1000), 10),
    "centimetres": lengths(Marking.METRIC, Fraction(1, 100), 10),
    "metres": lengths(Marking.METRIC, Fraction(1), 50),
}

FORMS = {"spoken": spoken.say_length, "shown": spoken.show_length}


@pytest.mark.parametrize("form", FORMS)
@pytest.mark.parametrize("name", RANGES)
def test_every_length(name: str, form: str) -> None:
    assert not list(lost_lengths(RANGES[name], FORMS[form]))


@pytest.mark.parametrize("name", RANGES)
def test_every_length_digit_by_digit(name: str) -> None:
    """A length read out digit by digit can be repeated as the answer to the question."""

    def lost() -> Iterator[tuple[str, Meaning | Miss]]:
        for length in RANGES[name]:
            said = spoken.say_digits(length)
            got = understand(said, Context(length.marking, asking=True))
            same = isinstance(got, Answer) and got.length is not None
            if not (same and alike(got.length, length)):  # type: ignore[union-attr]
                yield said, got

    assert not list(lost())


def lost_lengths(every: list[Length], form: Callable[[Length], str]) -> Iterator[tuple[str, Meaning | Miss]]:
    for length in every:
        said = form(length)
        got = understand(f"reading {said}", Context(length.marking))
        if not (isinstance(got, Reading) and alike(got.length, length)):
            yield said, got


def alike(got: Length, wanted: Length) -> bool:
    """The same amount in the same marking; the step may be coarser: 3 4/8 is said as halves."""
    return got.amount == wanted.amount and got.marking is wanted.marking


def stations(marking: Marking, step: Fraction, beyond: int) -> list[Station]:
    return [Station(length) for length in lengths(marking, step, beyond)]


PLACES = {
    "whole feet": stations(Marking.TENTHS, Fraction(1), 9999),
    "tenths of a foot": stations(Marking.TENTHS, Fraction(1, 10), 250),
    "hundredths of a foot": stations(Marking.TENTHS, Fraction(1, 100), 10_000)[::97],
    "hundredths near a full station": [
        Station(Length(Fraction(n, 100), Marking.TENTHS, Fraction(1, 100)))
        for full in (0, 100, 1200, 9900)
        for n in range(full * 100 - 10 if full else 0, full * 100 + 1100)
    ],
    "whole metres": stations(Marking.METRIC, Fraction(1), 2000),
    "hundredths of a metre": stations(Marking.METRIC, Fraction(1, 100), 1000)[::97],
}

PLACE_FORMS = {"spoken": spoken.say_place, "shown": spoken.show_place}


@pytest.mark.parametrize("name", PLACES)
def test_every_place_spoken(name: str) -> None:
    assert not list(lost_places(name, "spoken"))


@pytest.mark.parametrize("name", PLACES)
def test_every_place_shown(name: str) -> None:
    assert not list(lost_places(name, "shown"))


def lost_places(name: str, form: str) -> Iterator[tuple[str, Meaning | Miss]]:
    for place in PLACES[name]:
        said = PLACE_FORMS[form](place)
        got = understand(f"what should i read at {said}", Context(place.distance.marking))
        same = isinstance(got, AskGradeRod) and got.station is not None
        if not (same and alike(got.station.distance, place.distance)):  # type: ignore[union-attr]
            yield said, got


@pytest.mark.parametrize("name", PLACES)
def test_every_place_digit_by_digit(name: str) -> None:
    def lost() -> Iterator[tuple[str, Meaning | Miss]]:
        for place in PLACES[name]:
            said = spoken.say_digits(place)
            got = understand(said, Context(place.distance.marking, asking=True))
            same = isinstance(got, Answer) and got.station is not None
            if not (same and alike(got.station.distance, place.distance)):  # type: ignore[union-attr]
                yield said, got

    assert not list(lost())


SLOPES = {
    SlopeUnit.PERCENT: [Fraction(n, 100) for n in range(2001)],
    SlopeUnit.INCH_PER_FOOT: [Fraction(n, 16) for n in range(1, 193)],
    SlopeUnit.ONE_IN: [Fraction(n) for n in range(1, 1000)],
    SlopeUnit.DEGREES: [Fraction(n, 10) for n in range(1, 450)],
}


@pytest.mark.parametrize("unit", SLOPES)
def test_every_slope(unit: SlopeUnit) -> None:
    def lost() -> Iterator[tuple[str, Meaning | Miss]]:
        for amount in SLOPES[unit]:
            slope = Slope(amount, unit)
            for said in (spoken.say_slope(slope), spoken.show_slope(slope)):
                got = understand(f"what is {said}", Context(Marking.TENTHS))
                if got != ConvertSlope(slope, None):
                    yield said, got

    assert not list(lost())


DISTANCES = st.integers(0, 99_999)


@given(DISTANCES)
def test_whole_numbers(number: int) -> None:
    said = spoken.say_number(Fraction(number))
    got = understand(f"how much fall in {said} feet at two percent", Context(Marking.TENTHS))
    assert isinstance(got, AskFall)
    assert isinstance(got.distance, Length)
    assert got.distance.amount == number


@given(st.integers(0, 9_999_999))
def test_whole_numbers_have_words(number: int) -> None:
    """Every number up to 9,999,999 has words of its own."""
    assert value_of(spoken.say_number(Fraction(number))) == number


AMOUNTS = st.fractions(0, 25, max_denominator=10_000)


@given(AMOUNTS, st.sampled_from([INCH / 16, INCH / 8, INCH / 2, INCH]))
def test_inches_are_rounded_once_half_up(amount: Fraction, step: Fraction) -> None:
    rounded_as(Length(amount, Marking.INCHES, step))


@given(AMOUNTS, st.sampled_from([Fraction(1, 10), Fraction(1, 100)]))
def test_tenths_are_rounded_once_half_up(amount: Fraction, step: Fraction) -> None:
    rounded_as(Length(amount, Marking.TENTHS, step))


@given(st.fractions(0, 5, max_denominator=10_000))
def test_metres_are_rounded_once_half_up(amount: Fraction) -> None:
    rounded_as(Length(amount, Marking.METRIC, Fraction(1, 1000)))


def rounded_as(length: Length) -> None:
    """What is understood is the nearest step, and the upper one of two as near."""
    for form in FORMS.values():
        got = understand(f"reading {form(length)}", Context(length.marking))
        assert isinstance(got, Reading), f"{form(length)}: {got}"
        assert -length.step / 2 < got.length.amount - length.amount <= length.step / 2
        assert (got.length.amount / length.step).denominator == 1


# From the design of the project and from site usage; common practice, no source.
WORDS = [
    (Length(Fraction(15, 4), Marking.INCHES, INCH), "three foot nine", "3 ft 9 in"),
    (Length(Fraction(41, 8), Marking.INCHES, INCH / 8), "five foot one and", "5 ft 1 1/2 in"),
    (
        Length(Fraction(77, 96), Marking.INCHES, INCH / 8),
        "nine and five eighths inches",
        "9 5/8 in",
    ),
    (Length(Fraction(0), Marking.INCHES, INCH / 8), "zero inches", "0 in"),
    (
        Length(Fraction(4, 5), Marking.TENTHS, Fraction(1, 100)),
        "zero point eight zero feet",
        "0.80 ft",
    ),
    (
        Length(Fraction(15, 4), Marking.TENTHS, Fraction(1, 100)),
        "three point seven five feet",
        "3.75 ft",
    ),
    (
        Length(Fraction(287, 200), Marking.METRIC, Fraction(1, 1000)),
        "one point four three five met",
        "1.435 m",
    ),
    (
        Length(Fraction(61, 250), Marking.METRIC, Fraction(1, 1000)),
        "two hundred forty four millimet",
        "244 mm",
    ),
]


@pytest.mark.parametrize(("length", "said", "shown"), WORDS)
def test_words_and_figures_of_lengths(length: Length, said: str, shown: str) -> None:
    assert spoken.say_length(length).startswith(said)
    assert spoken.show_length(length) == shown


PLACES_SAID = [
    (40, 1, Marking.TENTHS, "station forty", "0+40"),
    (150, 1, Marking.TENTHS, "station one plus fifty", "1+50"),
    (205, 1, Marking.TENTHS, "station two plus zero five", "2+05"),
    (Fraction(81, 2), 10, Marking.TENTHS, "station forty point five", "0+40.5"),
    (40, 1, Marking.METRIC, "station forty met", "40 m"),
]


@pytest.mark.parametrize(("at", "parts", "marking", "said", "shown"), PLACES_SAID)
def test_words_and_figures_of_places(at: Fraction, parts: int, marking: Marking, said: str, shown: str) -> None:
    place = Station(Length(Fraction(at), marking, Fraction(1, parts)))
    assert spoken.say_place(place).startswith(said)
    assert spoken.show_place(place) == shown


SLOPES_SAID = [
    (Slope(Fraction(2), SlopeUnit.PERCENT), "two percent", "2 %"),
    (Slope(Fraction(1, 4), SlopeUnit.INCH_PER_FOOT), "one quarter inch per foot", "1/4 in per ft"),
    (Slope(Fraction(80), SlopeUnit.ONE_IN), "one in eighty", "1 in 80"),
    (Slope(Fraction(2), SlopeUnit.DEGREES), "two degrees", "2°"),
]


@pytest.mark.parametrize(("slope", "said", "shown"), SLOPES_SAID)
def test_words_and_figures_of_slopes(slope: Slope, said: str, shown: str) -> None:
    assert spoken.say_slope(slope) == said
    assert spoken.show_slope(slope) == shown
