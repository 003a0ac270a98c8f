"""Cross-sections of a dig or a bank, and volumes between them, in the cube of the unit of length."""

from __future__ import annotations

import math
from collections.abc import Sequence
from fractions import Fraction
from itertools import pairwise

from assistant.grade.earthwork import average_end_area, prismoidal


def banked_area(bottom: Fraction, across: Fraction, depth: Fraction) -> Fraction:
    """Area of a cut whose sides go out by `across` for one up (checks V10, V22)."""
    return depth * (bottom + across * depth)


def by_end_areas(areas: Sequence[Fraction], apart: Sequence[Fraction]) -> Fraction:
    """Volume through sections: mean areas, and pyramids where a section has nothing (checks V04, V05)."""
    pieces = zip(areas, areas[1:], apart, strict=False)
    return sum(((a + b) * far / 3 if 0 in (a, b) else average_end_area(a, b, far) for a, b, far in pieces), Fraction(0))


def cut_by_end_areas(bottom: Fraction, across: Fraction, depths: Sequence[Fraction], apart: Fraction) -> Fraction:
    """Volume of a cut by the mean of end areas alone, its depths `apart` (check V10)."""
    areas = [banked_area(bottom, across, depth) for depth in depths]
    return sum((average_end_area(a, b, apart) for a, b in pairwise(areas)), Fraction(0))


def cut_by_prismoids(bottom: Fraction, across: Fraction, depths: Sequence[Fraction], apart: Fraction) -> Fraction:
    """The same by the prismoidal formula, the middle section at the mean depth (check V10)."""

    def piece(a: Fraction, b: Fraction) -> Fraction:
        first, middle, last = (banked_area(bottom, across, depth) for depth in (a, (a + b) / 2, b))
        return prismoidal(first, middle, last, apart)

    return sum((piece(a, b) for a, b in pairwise(depths)), Fraction(0))


def frustum(first: Fraction, second: Fraction, apart: Fraction) -> Fraction:
    """Volume of a frustum: L/3 (A1 + A2 + sqrt(A1 A2)), as exact as a float (check DX12)."""
    return apart / 3 * (first + second + Fraction(math.sqrt(first * second)))
