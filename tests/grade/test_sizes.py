"""Diagonals and volumes."""

from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st

from assistant.grade import sizes

sides = st.fractions(Fraction(1, 100), 1000, max_denominator=1000)


@given(sides, sides)
def test_a_diagonal_squares_its_sides(length: Fraction, width: Fraction) -> None:
    assert float(sizes.diagonal(length, width) ** 2) == pytest.approx(float(length**2 + width**2), rel=1e-12)


@pytest.mark.parametrize(("a", "b", "c"), [(3, 4, 5), (5, 12, 13), (Fraction(3, 2), 2, Fraction(5, 2))])
def test_a_diagonal_with_an_end_is_exact(a: Fraction, b: Fraction, c: Fraction) -> None:
    assert sizes.diagonal(Fraction(a), Fraction(b)) == c


@given(sides, sides, sides)
def test_a_slab_twice_as_thick_takes_twice_as_much(length: Fraction, width: Fraction, thickness: Fraction) -> None:
    once = sizes.slab_cubic_yards(length, width, thickness)
    assert sizes.slab_cubic_yards(length, width, 2 * thickness) == 2 * once
