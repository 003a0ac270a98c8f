"""Slope stakes: where a bank meets the ground."""

from __future__ import annotations

from fractions import Fraction


def catch_distance(bed: Fraction, bank: Fraction, height: Fraction) -> Fraction:
    """How far from the centre the bank meets ground that is `height` above or below the bed, all in one unit.

    `bed` is its whole width, `bank` so many across for one up. d = W/2 + h x s, source: check O07.
    """
    return bed / 2 + abs(height) * bank
