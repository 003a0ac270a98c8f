"""Volumes of dirt: cut and fill apart, from points, grids and cross-sections, and what becomes of it once it is dug."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from fractions import Fraction
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

CUBIC_FEET_IN_A_YARD = Fraction(27)


@dataclass(frozen=True)
class Volumes:
    """Volume to cut and volume to fill, neither negative, in the cube of the unit of length."""

    cut: Fraction
    fill: Fraction


@dataclass(frozen=True)
class Depth:
    """A point at (x, y), and how much is to be cut there; to fill is negative."""

    x: Fraction
    y: Fraction
    depth: Fraction


def of_points(points: Sequence[Depth]) -> Volumes | None:
    """Cut and fill under the triangles between points; none where all lie in one line, or there are fewer than three.

    Triangles by Delaunay; within each the surface is a plane, so that its zero line is straight and counted exactly.
    Four points on one circle have two such triangulations: sorted first, they give one volume in whatever order.
    """
    if len(points) < 3 or _in_line(points):
        return None
    from scipy.spatial import Delaunay

    placed = sorted(points, key=lambda point: (point.x, point.y, point.depth))
    cut = fill = Fraction(0)
    for corners in Delaunay([(float(p.x), float(p.y)) for p in placed]).simplices:
        found = of_triangle(*(placed[corner] for corner in corners))
        cut, fill = cut + found.cut, fill + found.fill
    return Volumes(cut, fill)


def of_triangle(a: Depth, b: Depth, c: Depth) -> Volumes:
    """Exact cut and fill of a plane over a triangle: geometry, the lone corner of another sign cuts off a pyramid."""
    area = abs((b.x - a.x) * (c.y - a.y) - (c.x - a.x) * (b.y - a.y)) / 2
    depths = sorted((a.depth, b.depth, c.depth))
    total = area * sum(depths, Fraction(0)) / 3
    if depths[0] >= 0:
        return Volumes(total, Fraction(0))
    if depths[2] <= 0:
        return Volumes(Fraction(0), -total)
    lone = depths[0] if depths[1] > 0 else depths[2]
    others = [depth for depth in depths if depth != lone]
    share = lone / (lone - others[0]) * (lone / (lone - others[-1]))
    piece = area * share * lone / 3
    return Volumes(total - piece, -piece) if lone < 0 else Volumes(piece, piece - total)


def of_grid(depths: NDArray[np.float64], dx: float, dy: float) -> tuple[float, float]:
    """Cut and fill (floats) of depths on a grid with spacings `dx` and `dy`; each cell is two triangles.

    The shape is (rows, columns), at least 2 by 2. The same geometry as `of_triangle`, all cells at once.
    """
    import numpy as np

    a, b, c, d = depths[:-1, :-1], depths[:-1, 1:], depths[1:, :-1], depths[1:, 1:]
    net = 2.0 * float((b + c).sum()) + float(a.sum()) + float(d.sum())
    above = depths > 0
    same = above[:-1, 1:] == above[1:, :-1]
    cut = 0.0
    for corner, side in ((a, above[:-1, :-1]), (d, above[1:, 1:])):
        whole = same & (side == above[:-1, 1:])
        cut += float(np.where(whole & side, corner + b + c, 0.0).sum())
        x, y, z = (each[~whole] for each in (corner, b, c))
        lone = np.where(
            (x > 0).astype(np.int8) + (y > 0) + (z > 0) == 1,
            np.maximum(np.maximum(x, y), z),
            np.minimum(np.minimum(x, y), z),
        )
        others = x + y + z - lone
        piece = lone**3 / (lone * lone - lone * others + (x * y + y * z + z * x - lone * others))
        cut += float(np.where(lone > 0, piece, x + y + z - piece).sum())
    scale = dx * dy / 6
    return cut * scale, (cut - net) * scale


def average_end_area(first: Fraction, second: Fraction, apart: Fraction) -> Fraction:
    """Volume between two cross-sections by the mean of their areas; usual rule, a little too large where both differ.

    Source: the worked examples of the earthwork checks.
    """
    return (first + second) / 2 * apart


def prismoidal(first: Fraction, middle: Fraction, second: Fraction, apart: Fraction) -> Fraction:
    """Volume by the prismoidal formula: L (A1 + 4 Am + A2) / 6. Source: the worked examples of the earthwork checks."""
    return apart * (first + 4 * middle + second) / 6


def loose(in_place: Fraction, percent: Fraction) -> Fraction:
    """What dug dirt takes up, when it swells by so many percent; shrinking is negative."""
    return in_place * (100 + percent) / 100


def loads(volume: Fraction, load: Fraction) -> int:
    """Whole loads for a loose volume."""
    return math.ceil(volume / load)


def _in_line(points: Sequence[Depth]) -> bool:
    first = points[0]
    far = max(points, key=lambda p: (p.x - first.x) ** 2 + (p.y - first.y) ** 2)
    return all((far.x - first.x) * (p.y - first.y) == (p.x - first.x) * (far.y - first.y) for p in points)
