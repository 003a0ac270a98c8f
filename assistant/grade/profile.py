"""A design line that bends and steps down along its stations, and a surface that lies across it.

Heights are feet above the start of the line, slopes are rise over run along the stations, both as `Fraction`.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from fractions import Fraction


@dataclass(frozen=True)
class Change:
    """Where a line goes on otherwise: with another `slope` (none: the same as before), or `drop` feet lower."""

    station: Fraction
    slope: Fraction | None
    drop: Fraction


def rise_at(station: Fraction, start: Fraction, slope: Fraction, changes: Sequence[Change]) -> Fraction:
    """Height at `station` of a line that begins at `start` with `slope`; just before a drop, where there is one.

    The changes are in the order of their stations, none before the start. Before the start the first slope holds.
    Arithmetic: each piece adds its slope times its length.
    """
    height, at = Fraction(0), start
    for change in changes:
        if change.station >= station:
            break
        height += slope * (change.station - at) - change.drop
        slope, at = slope if change.slope is None else change.slope, change.station
    return height + slope * (station - at)


def drop_at(station: Fraction, changes: Sequence[Change]) -> Fraction:
    """How far the line steps down at `station`, all in all."""
    return sum((change.drop for change in changes if change.station == station), Fraction(0))


def meeting(gap: Fraction, slope: Fraction, other: Fraction) -> Fraction | None:
    """How far on two lines meet of which the other is `gap` above here; behind where negative, none if they never do.

    Arithmetic: the gap closes by the difference of the slopes.
    """
    return None if slope == other else gap / (slope - other)


def across(offset_left: Fraction, left: Fraction, right: Fraction) -> Fraction:
    """Height beside a line over the height on it: `left` and `right` are slopes outward from the line."""
    return left * offset_left if offset_left >= 0 else right * -offset_left


def banked(
    station: Fraction, crown: Fraction, bank: Fraction, turns: tuple[Fraction, Fraction, Fraction]
) -> tuple[Fraction, Fraction]:
    """Slopes outward of the inner and the outer lane of a crowned road that is turned about its centre into a bank.

    The outer lane begins to turn at the first of `turns`, is level at the second and has the whole bank at the third;
    the inner one follows once the outer is as steep. Source: check D06.
    """
    start, level, full = turns
    if station <= level:
        share = max(Fraction(0), min(Fraction(1), (station - start) / (level - start)))
        outer = -crown * (1 - share)
    else:
        outer = bank * min(Fraction(1), (station - level) / (full - level))
    return min(-crown, -outer), outer
