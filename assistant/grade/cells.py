"""Dirt by hand on a grid of depths: corner shares, and the four-point rule for a cell with both cut and fill."""

from __future__ import annotations

from collections.abc import Sequence
from fractions import Fraction

from assistant.grade.earthwork import Volumes

Grid = Sequence[Sequence[Fraction | None]]
"""Rows of depths at the corners of cells; none where the ground is not of the job."""


def corner_shares(depths: Grid) -> list[list[int]]:
    """How many whole cells share each corner: 1, 2, 3 or 4 (check V02)."""
    shares = [[0] * len(row) for row in depths]
    for down in range(len(depths) - 1):
        for across in range(len(depths[0]) - 1):
            corners = [(down + i, across + j) for i in (0, 1) for j in (0, 1)]
            if all(depths[row][column] is not None for row, column in corners):
                for row, column in corners:
                    shares[row][column] += 1
    return shares


def net_volume(depths: Grid, cell: Fraction) -> Fraction:
    """Cut less fill: area of a cell / 4 x sum of share x depth (checks V01, V03)."""
    pairs = zip(corner_shares(depths), depths, strict=True)
    weighted = (share * (depth or 0) for shares, row in pairs for share, depth in zip(shares, row, strict=True))
    return cell / 4 * sum(weighted, Fraction(0))


def four_point(area: Fraction, depths: Sequence[Fraction]) -> Volumes:
    """Cut and fill of one cell by its four corners: area / 4 x square of either sum / sum of both (checks V08, V09)."""
    cut = sum((depth for depth in depths if depth > 0), Fraction(0))
    fill = -sum((depth for depth in depths if depth < 0), Fraction(0))
    whole = cut + fill
    return Volumes(area / 4 * cut**2 / whole, area / 4 * fill**2 / whole) if whole else Volumes(cut, fill)
