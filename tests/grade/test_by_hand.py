"""Small sums, beside what a person gets by hand."""

from __future__ import annotations

from fractions import Fraction

import pytest

from assistant.grade.distance import longer_by_heat, pace_of
from assistant.grade.levelling import of_setups
from assistant.grade.line import grade_rod_at


def test_a_pace_is_the_mean_of_the_counts_but_the_least_and_the_most() -> None:
    """A hundred feet in 40, 41, 39 and once 70 paces, miscounted: 40 and 41 are kept, 200 feet in 81 paces."""
    assert pace_of([Fraction(n) for n in (40, 70, 41, 39)], Fraction(100)) == Fraction(200, 81)
    assert pace_of([Fraction(n) for n in (40, 41, 39)], Fraction(100)) == Fraction(100, 40)
    with pytest.raises(ValueError, match="three times"):
        pace_of([Fraction(40), Fraction(41)], Fraction(100))


def test_a_line_that_starts_at_a_station_falls_from_there() -> None:
    """Down two percent from 0+50, where the rod reads 4 ft: at 1+50 two feet more."""
    there = grade_rod_at(Fraction(150), start_station=Fraction(50), start_rod=Fraction(4), slope=Fraction(-2, 100))
    assert there == 6


def test_a_steel_tape_in_the_sun_is_longer_by_some_hundredths() -> None:
    """A hundred feet, fifty degrees warmer than it was made for: about three hundredths of a foot."""
    assert longer_by_heat(Fraction(100), Fraction(50)) == pytest.approx(0.032, abs=0.001)
    assert longer_by_heat(Fraction(100), Fraction(-50)) == -longer_by_heat(Fraction(100), Fraction(50))


def test_four_set_ups_are_twice_as_far_off_as_one() -> None:
    assert of_setups(Fraction(3, 1000), 4) == Fraction(6, 1000)
