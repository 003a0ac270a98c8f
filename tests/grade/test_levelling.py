"""Runs of levels, for any readings."""

from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st

from assistant.grade import levelling
from assistant.grade.levelling import Setup
from assistant.grade.units import FOOT_IN_METRES, convert

readings = st.fractions(Fraction(-25), Fraction(25), max_denominator=1000)
setups = st.builds(Setup, readings, st.lists(readings, max_size=3).map(tuple), readings)
runs = st.lists(setups, min_size=1, max_size=6)


@given(readings, runs)
def test_the_page_check_is_last_less_first(known: Fraction, run: list[Setup]) -> None:
    last = levelling.worked(known, run)[-1].points[-1]
    assert levelling.page_check([s.backsight for s in run], [s.foresight for s in run]) == last - known


@given(readings, runs)
def test_rises_and_falls_give_the_same(known: Fraction, run: list[Setup]) -> None:
    worked = levelling.worked(known, run)
    assert levelling.rise_and_fall(known, run) == [point for setup in worked for point in setup.points]


@given(readings, runs, readings, st.data())
def test_an_adjusted_run_ends_on_the_known_point(
    known: Fraction, run: list[Setup], closing: Fraction, data: st.DataObject
) -> None:
    worked = levelling.worked(known, run)
    off = levelling.misclosure(worked[-1].points[-1], closing)
    lengths = data.draw(st.lists(st.integers(1, 500).map(Fraction), min_size=len(run), max_size=len(run)))
    for corrections in (
        levelling.equal_corrections(off, len(run)),
        levelling.corrections_by_distance(off, lengths),
    ):
        assert levelling.adjusted(worked, corrections)[-1] == closing


@given(readings, runs)
def test_the_same_run_in_metres_gives_the_same_elevations(known: Fraction, run: list[Setup]) -> None:
    def metric(feet: Fraction) -> Fraction:
        return feet * FOOT_IN_METRES

    same = [Setup(metric(s.backsight), tuple(map(metric, s.sights)), metric(s.foresight)) for s in run]
    in_metres = [point for setup in levelling.worked(metric(known), same) for point in setup.points]
    in_feet = [point for setup in levelling.worked(known, run) for point in setup.points]
    assert [convert(point, "meter", "foot") for point in in_metres] == in_feet


@given(readings, readings)
def test_closing_is_told_in_words(computed: Fraction, known: Fraction) -> None:
    how, amount = levelling.closes(computed, known)
    assert amount >= 0
    assert known + {"high": amount, "low": -amount, "exactly": Fraction(0)}[how] == computed


def test_a_run_without_length_is_not_adjusted_by_distance() -> None:
    with pytest.raises(ValueError, match="without length"):
        levelling.corrections_by_distance(Fraction(1, 100), [Fraction(0)])
