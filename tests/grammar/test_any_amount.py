"""Whatever an amount is, it can be said and shown."""

from __future__ import annotations

from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st

from grammar import spoken
from grammar.quantities import Length, Marking, Offset, Side, Slope, SlopeUnit, Station

AMOUNTS = st.fractions(-(10**7), 10**7)
STEPS = st.sampled_from([Fraction(1, parts) for parts in (1, 7, 10, 12, 96, 100, 192, 1000)])


@given(AMOUNTS, STEPS, st.sampled_from(list(Marking)))
def test_lengths_and_places(amount: Fraction, step: Fraction, marking: Marking) -> None:
    length = Length(amount, marking, step)
    away = Length(abs(amount), marking, step)
    place = Station(away, Offset(away, Side.LEFT))
    said = (spoken.say_length(length), spoken.say_digits(length), spoken.say_place(place), spoken.say_digits(place))
    assert all(text.replace(",", "").replace(" ", "").isalpha() for text in said)
    assert ("minus" in said[0]) == (spoken.half_up(amount, step) < 0)
    assert spoken.show_length(length).startswith("-") == (spoken.half_up(amount, step) < 0)
    assert marking.unit in spoken.show_length(length) or "in" in spoken.show_length(length)


@given(AMOUNTS.map(abs), st.sampled_from(list(SlopeUnit)))
def test_slopes(amount: Fraction, unit: SlopeUnit) -> None:
    slope = Slope(amount, unit)
    assert ("about" in spoken.say_slope(slope)) == ("about" in spoken.show_slope(slope))


@given(AMOUNTS)
def test_about_is_said_of_just_what_is_rounded(amount: Fraction) -> None:
    """Of what is told with "about", the figures are off by less than half of the third; of the rest, they are exact."""
    shown = spoken.show_number(amount)
    figures = Fraction(shown.removeprefix("about "))
    if "about" not in shown:
        assert figures == amount
    else:
        off = abs(figures - amount)
        assert 0 < off <= max(abs(amount) / 200, Fraction(1, 2 * 10**6))


@pytest.mark.parametrize(
    ("percent", "shown", "said"),
    [
        (Fraction(10, 3), "about 3.33 %", "about three point three three percent"),
        (Fraction(1, 3), "about 0.333 %", "about zero point three three three percent"),
        (Fraction(200, 3), "about 66.7 %", "about sixty six point seven percent"),
        (Fraction(25, 8), "3 1/8 %", "three and one eighth percent"),
    ],
)
def test_percents(percent: Fraction, shown: str, said: str) -> None:
    slope = Slope(percent, SlopeUnit.PERCENT)
    assert (spoken.show_slope(slope), spoken.say_slope(slope)) == (shown, said)


def test_a_length_below_zero_keeps_its_amount() -> None:
    length = Length(Fraction(-1, 4), Marking.INCHES, Fraction(1, 96))
    assert (spoken.show_length(length), spoken.say_length(length)) == ("-3 in", "minus three inches")
