"""Figures that warn: trenches and noise. They inform and never permit; the competent person on site decides."""

from __future__ import annotations

from fractions import Fraction

from assistant.grade.codes import figure


def trench_top(bottom: Fraction, depth: Fraction, across: Fraction) -> Fraction:
    """Width of the top of a trench whose sides go out by `across` for one up (checks V22, Y13)."""
    return bottom + 2 * depth * across


def trench_cautions(depth: Fraction) -> list[str]:
    """Names of the figures that a trench of that depth in feet has reached, the gravest last (checks Y10, Y15, Y16)."""
    return [name for name in ("trench way out", "trench protection", "engineer") if depth >= figure(name).amount]


def osha_hours(level: float) -> float:
    """Hours a day that OSHA allows at a level in dBA: 8 / 2^((L - 90) / 5). Source: table D-2, check Y28."""
    return float(8 / 2 ** ((level - 90) / 5))


def niosh_minutes(level: float) -> float:
    """Minutes a day that NIOSH advises at a level in dBA: 480 / 2^((L - 85) / 3). Source: check Y29."""
    return float(480 / 2 ** ((level - 85) / 3))
