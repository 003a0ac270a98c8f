"""Planes of two legs, for any legs."""

from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st

from assistant.grade import planes

slopes = st.fractions(-1, 1, max_denominator=1000)
turns = st.integers(-180, 180).map(Fraction).filter(lambda turn: turn % 180 != 0)


@given(slopes, turns, slopes)
def test_the_plane_gives_both_legs_back(first: Fraction, turn: Fraction, second: Fraction) -> None:
    plane = planes.of_legs(first, turn, second)
    assert planes.slope_at(plane, Fraction(0)) == first
    assert float(planes.slope_at(plane, turn)) == pytest.approx(float(second), abs=1e-9)


@given(slopes, turns, slopes, turns)
def test_no_leg_is_steeper_than_the_steepest(
    first: Fraction, turn: Fraction, second: Fraction, other: Fraction
) -> None:
    plane = planes.of_legs(first, turn, second)
    fall, way = planes.steepest(plane)
    assert abs(planes.slope_at(plane, other)) <= fall + Fraction(1, 10**9)
    assert float(planes.slope_at(plane, way)) == pytest.approx(-float(fall), abs=1e-9)


@given(slopes, slopes)
def test_a_right_angle_is_exact(first: Fraction, second: Fraction) -> None:
    plane = planes.of_legs(first, Fraction(90), second)
    assert (plane.along, plane.across) == (first, second)
    assert planes.of_legs(first, Fraction(-90), second).across == -second


@pytest.mark.parametrize("turn", [0, 180, -180, 360])
def test_one_line_fixes_no_plane(turn: int) -> None:
    with pytest.raises(planes.OneLine):
        planes.of_legs(Fraction(1, 50), Fraction(turn), Fraction(1, 50))


@pytest.mark.parametrize(
    ("turn", "nearly"), [(5, True), (175, True), (19, True), (21, False), (90, False), (-10, True)]
)
def test_legs_nearly_in_one_line_are_known(turn: int, nearly: bool) -> None:
    assert planes.nearly_one_line(Fraction(turn)) is nearly
