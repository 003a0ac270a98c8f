"""Dirt, for any ground."""

from fractions import Fraction

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from assistant.grade import bulking, cells, earthwork, levels, sections
from assistant.grade.earthwork import Depth
from assistant.grade.units import FOOT_IN_METRES, convert

depths = st.fractions(-10, 10, max_denominator=100)
places = st.tuples(st.integers(0, 5), st.integers(0, 5))
grounds = st.dictionaries(places, depths, min_size=3, max_size=12).map(
    lambda found: [Depth(Fraction(x), Fraction(y), depth) for (x, y), depth in found.items()]
)


def turned_over(points: list[Depth]) -> list[Depth]:
    return [Depth(point.x, point.y, -point.depth) for point in points]


@given(grounds)
def test_cut_and_fill_swap_when_the_ground_is_turned_over(points: list[Depth]) -> None:
    found, other = earthwork.of_points(points), earthwork.of_points(turned_over(points))
    if found is None or other is None:
        assert found is other
    else:
        assert (found.cut, found.fill) == (other.fill, other.cut)


@given(grounds, st.data())
def test_the_order_of_points_does_not_matter(points: list[Depth], data: st.DataObject) -> None:
    assert earthwork.of_points(data.draw(st.permutations(points))) == earthwork.of_points(points)


@given(grounds)
def test_ground_measured_in_metres_is_the_same_ground(points: list[Depth]) -> None:
    def through_metres(feet: Fraction) -> Fraction:
        return convert(feet * FOOT_IN_METRES, "meter", "foot")

    same = [Depth(*map(through_metres, (point.x, point.y, point.depth))) for point in points]
    assert earthwork.of_points(same) == earthwork.of_points(points)


@given(st.lists(st.lists(depths, min_size=3, max_size=3), min_size=2, max_size=4))
def test_a_grid_turned_over_swaps_cut_and_fill(rows: list[list[Fraction]]) -> None:
    grid = np.array([[float(depth) for depth in row] for row in rows])
    (cut, fill), (other_cut, other_fill) = earthwork.of_grid(grid, 5, 10), earthwork.of_grid(-grid, 5, 10)
    assert (cut, fill) == pytest.approx((other_fill, other_cut), abs=1e-6)


@given(st.lists(st.lists(depths, min_size=3, max_size=3), min_size=2, max_size=4))
def test_corner_shares_add_up_to_four_a_cell(rows: list[list[Fraction]]) -> None:
    assert sum(map(sum, cells.corner_shares(rows))) == 4 * (len(rows) - 1) * 2


@given(st.fractions(1, 500, max_denominator=10), st.lists(depths, min_size=4, max_size=4))
def test_the_four_point_rule_swaps_and_keeps_the_net(area: Fraction, corners: list[Fraction]) -> None:
    found, other = cells.four_point(area, corners), cells.four_point(area, [-depth for depth in corners])
    assert (found.cut, found.fill) == (other.fill, other.cut)
    assert found.cut - found.fill == cells.net_volume([corners[:2], corners[2:]], area)


@given(depths, depths)
def test_cut_and_fill_of_a_reading_swap(rod: Fraction, reading: Fraction) -> None:
    one, other = levels.cut_or_fill(rod, reading, Fraction(0)), levels.cut_or_fill(reading, rod, Fraction(0))
    assert one.amount == other.amount
    assert {one.kind, other.kind} in ({"cut", "fill"}, {"on grade"})


@given(st.fractions(0, 30, max_denominator=10), st.fractions(0, 3, max_denominator=4), st.lists(
    st.fractions(0, 20, max_denominator=10), min_size=2, max_size=5))  # fmt: skip
def test_end_areas_of_banks_are_never_too_small(bottom: Fraction, across: Fraction, cuts: list[Fraction]) -> None:
    by_areas, by_prismoids = (way(bottom, across, cuts, Fraction(50)) for way in (
        sections.cut_by_end_areas, sections.cut_by_prismoids))  # fmt: skip
    assert by_areas >= by_prismoids
    assert sections.cut_by_prismoids(bottom, across, cuts[::-1], Fraction(50)) == by_prismoids


@given(st.fractions(1, 5000, max_denominator=10), st.fractions(1, 5000, max_denominator=10))
def test_swell_and_load_factor_undo_each_other(bank: Fraction, loose: Fraction) -> None:
    swell = bulking.swell_percent(bank, loose)
    assert earthwork.loose(Fraction(1), swell) * bulking.load_factor(swell) == 1
