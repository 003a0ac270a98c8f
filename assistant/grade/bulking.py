"""What dirt takes up in the ground, loose and compacted: volumes from percents, and percents from weights.

Swell and shrink are what the user says they are; tables are only a guess (check V23).
"""

from __future__ import annotations

from fractions import Fraction

TON = Fraction(2000)
"""Pounds in a short ton."""


def swell_percent(bank: Fraction, loose: Fraction) -> Fraction:
    """Swell from the weights of one volume in the ground and loose (checks V11, V13, V15)."""
    return 100 * (bank / loose - 1)


def shrink_percent(bank: Fraction, compacted: Fraction) -> Fraction:
    """Shrink from the weights of one volume in the ground and compacted (checks V11, V15)."""
    return 100 * (1 - bank / compacted)


def bank_for(compacted: Fraction, shrink: Fraction) -> Fraction:
    """What to dig for so much compacted, when it shrinks by so many percent (checks V11, V12, V19)."""
    return compacted / (1 - shrink / 100)


def load_factor(swell: Fraction) -> Fraction:
    """Volume in the ground for one of loose dirt: 100 / (100 + swell) (check V17)."""
    return 100 / (100 + swell)


def yards_in_a_ton(pounds: Fraction) -> Fraction:
    """Cubic yards in a short ton of what weighs so many pounds a cubic yard (check V13)."""
    return TON / pounds
