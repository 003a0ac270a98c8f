"""Concrete, holes and bedding. Holes are in inches across and in depth, volumes in cubic feet."""

from __future__ import annotations

from collections.abc import Callable
from fractions import Fraction
from typing import Any

from assistant.grade import sizes

YARD = sizes.CUBIC_FEET_IN_A_YARD


def _hole(diameter: Fraction, depth: Fraction, count: Fraction = Fraction(1)) -> Fraction:
    return count * sizes.round_hole(diameter / 12, depth / 12)


def _driveway(length: Fraction, one: Fraction, other: Fraction, inches: Fraction, waste: Fraction) -> list[Fraction]:
    area = sizes.trapezoid(length, one, other)
    yards = area * inches / 12 / YARD
    return [area, yards, yards * (1 + waste / 100)]


CHECKS: dict[str, Callable[..., Any]] = {
    "covered by a yard": lambda *inches: [sizes.covered_by_a_yard(each / 12) for each in inches],
    "tapered slab": _driveway,
    "bag yields": lambda *pounds: [sizes.bag_yield(each) for each in pounds],
    "round holes": lambda diameter, depth, count: [_hole(diameter, depth), _hole(diameter, depth, count)],
    "round holes, yards": lambda diameter, depth: _hole(diameter, depth) / YARD,
    "bags for holes": lambda diameter, depth, count, pounds: sizes.bags(_hole(diameter, depth, count), pounds),
    "bags and part": lambda diameter, depth, pounds: _hole(diameter, depth) / sizes.bag_yield(pounds),
    "hole less round post": lambda diameter, depth, post: _hole(diameter, depth) - _hole(post, depth),
    "hole less square post": lambda diameter, depth, post: _hole(diameter, depth) - post**2 * depth / 1728,
    "square over round": lambda diameter, depth: (diameter**2 * depth / 1728) / _hole(diameter, depth),
    "bedding": lambda length, width, deep: [length * width / 12 * deep / 12],
    "bedding, yards": lambda length, width, deep: sizes.slab_cubic_yards(length, width / 12, deep / 12),
}
