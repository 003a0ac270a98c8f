"""Volumes: the grid agrees with exact triangles; cut and fill change places when the surface is turned over."""

from fractions import Fraction

import numpy as np
from hypothesis import given
from hypothesis import strategies as st

from assistant.grade import earthwork
from assistant.grade.earthwork import Depth, Volumes

LENGTHS = st.fractions(min_value=-50, max_value=50, max_denominator=8)
POINTS = st.lists(st.builds(Depth, LENGTHS, LENGTHS, LENGTHS), min_size=3, max_size=9, unique_by=lambda p: (p.x, p.y))
DEPTHS = st.integers(-8, 8).map(lambda eighths: eighths / 8)


def triangles(depths: np.ndarray, row: int, column: int) -> tuple[Volumes, Volumes]:
    def corner(r: int, c: int) -> Depth:
        return Depth(Fraction(c) * 3, Fraction(r) * 2, Fraction(float(depths[r, c])))

    one, other = corner(row, column + 1), corner(row + 1, column)
    first, last = corner(row, column), corner(row + 1, column + 1)
    return earthwork.of_triangle(first, one, other), earthwork.of_triangle(last, one, other)


@given(st.lists(st.lists(DEPTHS, min_size=4, max_size=4), min_size=3, max_size=3))
def test_a_grid_is_the_sum_of_its_triangles(rows: list[list[float]]) -> None:
    depths = np.array(rows)
    every = [v for row in range(2) for column in range(3) for v in triangles(depths, row, column)]
    cut, fill = earthwork.of_grid(depths, 3.0, 2.0)
    assert abs(cut - float(sum(v.cut for v in every))) < 1e-9
    assert abs(fill - float(sum(v.fill for v in every))) < 1e-9


@given(POINTS)
def test_turned_over_cut_is_fill(points: list[Depth]) -> None:
    over = [Depth(p.x, p.y, -p.depth) for p in points]
    one, other = earthwork.of_points(points), earthwork.of_points(over)
    if one is None:
        assert other is None
    else:
        assert other == Volumes(one.fill, one.cut)


@given(LENGTHS, LENGTHS, LENGTHS)
def test_a_plane_over_a_triangle_loses_nothing(a: Fraction, b: Fraction, c: Fraction) -> None:
    corners = Depth(Fraction(0), Fraction(0), a), Depth(Fraction(6), Fraction(0), b), Depth(Fraction(0), Fraction(4), c)
    found = earthwork.of_triangle(*corners)
    assert found.cut >= 0
    assert found.fill >= 0
    assert found.cut - found.fill == 12 * (a + b + c) / 3


def test_points_in_one_line_have_no_volume() -> None:
    assert earthwork.of_points([Depth(Fraction(n), Fraction(2 * n), Fraction(1)) for n in range(5)]) is None
