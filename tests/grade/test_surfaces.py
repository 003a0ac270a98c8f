"""Planes by points and dials, pegs, slope stakes and pipes, for any of them."""

from fractions import Fraction

import pytest
from hypothesis import assume, given
from hypothesis import strategies as st

from assistant.grade import codes, flow, instrument, planes, stakes, tolerances
from assistant.grade.units import FOOT_IN_METRES

lengths = st.fractions(-100, 100, max_denominator=100)
slopes = st.fractions(-1, 1, max_denominator=1000)
turns = st.integers(-180, 180).map(Fraction).filter(lambda turn: turn % 180 != 0)
points = st.builds(planes.Point, lengths, lengths, lengths)


def through(three: list[planes.Point]) -> planes.Plane:
    try:
        return planes.through(three)
    except planes.OneLine:
        assume(False)
        raise


@given(st.lists(points, min_size=3, max_size=3))
def test_a_plane_goes_through_its_points(three: list[planes.Point]) -> None:
    plane, first = through(three), three[0]
    for point in three:
        rise = planes.rise_to(plane, point.along - first.along, point.left - first.left)
        assert first.height + rise == point.height


@given(st.lists(points, min_size=3, max_size=3), st.permutations(range(3)))
def test_the_order_of_the_points_does_not_matter(three: list[planes.Point], order: list[int]) -> None:
    plane = through(three)
    assert planes.through([three[each] for each in order]) == plane


@given(st.lists(points, min_size=3, max_size=3))
def test_points_in_metres_give_the_same_slopes(three: list[planes.Point]) -> None:
    plane = through(three)
    metric = [
        planes.Point(*(each * FOOT_IN_METRES for each in (point.along, point.left, point.height))) for point in three
    ]
    assert planes.through(metric) == plane


@given(slopes, turns, slopes)
def test_what_is_dialled_gives_both_legs_back(first: Fraction, turn: Fraction, second: Fraction) -> None:
    fall, way = planes.steepest(planes.of_legs(first, turn, second))
    dialled = planes.of_steepest(fall, way)
    assert float(planes.slope_at(dialled, Fraction(0))) == pytest.approx(float(first), abs=1e-9)
    assert float(planes.slope_at(dialled, turn)) == pytest.approx(float(second), abs=1e-9)


@given(slopes, slopes, lengths, lengths)
def test_corners_of_a_plane_have_no_twist(along: Fraction, across: Fraction, x: Fraction, y: Fraction) -> None:
    plane, nothing = planes.Plane(along, across), Fraction(0)
    around = [(nothing, nothing), (x, nothing), (x, y), (nothing, y)]
    first, second, third, fourth = (planes.rise_to(plane, *corner) for corner in around)
    assert planes.twist((first, second, third, fourth)) == 0


@given(slopes, st.tuples(lengths, lengths), *[st.tuples(*[st.integers(0, 300).map(Fraction)] * 2)] * 2)
def test_any_two_set_ups_find_the_tilt(
    tilt: Fraction,
    true: tuple[Fraction, Fraction],
    first_away: tuple[Fraction, Fraction],
    second_away: tuple[Fraction, Fraction],
) -> None:
    assume(first_away[0] - first_away[1] != second_away[0] - second_away[1])
    first, second = (
        (true[0] + tilt * away[0], true[1] + tilt * away[1]) for away in (first_away, second_away)
    )  # fmt: skip
    found = instrument.peg_test(first, first_away, second, second_away)
    assert (found.tilt, found.first, found.second) == (tilt, *true)


def test_set_ups_that_lie_alike_show_nothing() -> None:
    nothing = (Fraction(0), Fraction(0))
    with pytest.raises(ValueError, match="lie alike"):
        instrument.peg_test(nothing, nothing, nothing, nothing)


@given(
    st.fractions(1, 100, max_denominator=10),
    st.fractions(0, 4, max_denominator=4),
    lengths.map(abs),
    st.fractions(-1, 1, max_denominator=50),
)
def test_the_catch_point_lies_on_bank_and_ground(
    bed: Fraction, bank: Fraction, height: Fraction, ground: Fraction
) -> None:
    if bank * ground >= 1:
        with pytest.raises(ValueError, match="never meet"):
            stakes.catch_on_slope(bed, bank, height, ground)
        return
    out = stakes.catch_on_slope(bed, bank, height, ground)
    assert out == bed / 2 + (height + ground * out) * bank


@given(st.fractions(Fraction(1, 4), 10, max_denominator=12), st.fractions(Fraction(1, 1000), Fraction(1, 5)))
def test_a_pipe_for_its_own_flow_is_itself(diameter: Fraction, slope: Fraction) -> None:
    running = flow.full(diameter, slope)
    assert flow.diameter_for(running.discharge, slope) == pytest.approx(float(diameter))
    assert flow.slope_for(diameter, running.velocity) == pytest.approx(float(slope))


def test_sizes_off_the_tables_are_refused() -> None:
    with pytest.raises(ValueError, match="as small as"):
        codes.slope_by_size("sewer slope", Fraction(6))
    with pytest.raises(ValueError, match="no tape"):
        tolerances.tape(Fraction(101))
    with pytest.raises(KeyError):
        codes.figure("nothing of the kind")
