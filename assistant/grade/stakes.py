"""Slope stakes: where a bank meets the ground."""

from __future__ import annotations

from fractions import Fraction


def catch_distance(bed: Fraction, bank: Fraction, height: Fraction) -> Fraction:
    """How far from the centre the bank meets ground that is `height` above or below the bed, all in one unit.

    `bed` is its whole width, `bank` so many across for one up. d = W/2 + h x s, source: check O07.
    """
    return bed / 2 + abs(height) * bank


def catch_on_slope(bed: Fraction, bank: Fraction, height: Fraction, ground: Fraction) -> Fraction:
    """The same on ground that rises outward by `ground` over run; `height` is that at the centre.

    Where the trials end: d = W/2 + (h + ground x d) x s. Raises `ValueError` where the bank never meets it. Check O08.
    """
    if bank * ground >= 1:
        raise ValueError("the ground rises as steeply as the bank, and they never meet")
    return (bed / 2 + height * bank) / (1 - bank * ground)


def below_hub(hub: Fraction, cut: Fraction) -> Fraction:
    """The reading wanted in the trench, from the reading on its offset hub and the cut on its stake (check O11)."""
    return hub + cut
