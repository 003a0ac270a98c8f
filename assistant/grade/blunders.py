"""Slips of the person at the rod that would explain a reading: pure guesses, for a question and never for the book.

Each is a fact of the trade (common practice, no source), but the section of a rod left in (check H14).
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from fractions import Fraction


@dataclass(frozen=True)
class Slip:
    """What may have happened, and the reading in feet that it would mean."""

    name: str
    reading: Fraction


def slips(reading: Fraction, step: Fraction, *, tenths: bool) -> Iterator[Slip]:
    """Readings that are easily taken for this one, on a rod marked in tenths, or in feet and inches."""
    feet = reading.numerator // reading.denominator
    part = reading - feet
    if tenths:
        yield from _on_tenths(feet, part, step)
    else:
        yield from _on_inches(feet, part, step)


def _on_tenths(feet: int, part: Fraction, step: Fraction) -> Iterator[Slip]:
    if step == Fraction(1, 10):
        yield Slip("inches as tenths", feet + part * 10 / 12)
    if step == Fraction(1, 100):
        tenths, hundredths = divmod(int(part * 100), 10)
        if hundredths and (tenths == 1 and hundredths < 2):
            yield Slip("inches as tenths", feet + Fraction(tenths * 10 + hundredths, 12))
        if tenths != hundredths:
            yield Slip("digits swapped", feet + Fraction(hundredths * 10 + tenths, 100))
        if feet < 10 and feet != tenths:
            yield Slip("digits swapped", tenths + Fraction(feet * 10 + hundredths, 100))


def _on_inches(feet: int, part: Fraction, step: Fraction) -> Iterator[Slip]:
    inches = part * 12
    if step != Fraction(1, 12):
        return
    if 0 < inches < 10:
        yield Slip("tenths as inches", feet + inches / 10)
    if feet < 12 and feet != inches:
        yield Slip("digits swapped", inches + Fraction(feet, 12))


def explained(slips: Iterator[Slip], expected: Fraction, within: Fraction) -> Slip | None:
    """The first slip that would make the reading the expected one."""
    return next((slip for slip in slips if abs(slip.reading - expected) <= within), None)
