"""What levels and tapes may be off, from `tolerances.toml`: each with its source."""

from __future__ import annotations

import tomllib
from dataclasses import dataclass
from fractions import Fraction
from functools import cache
from importlib.resources import files
from typing import Any


@dataclass(frozen=True)
class LevellingClass:
    """Feet x sqrt(miles), millimetres x sqrt(kilometres) (none where it is not told), and the source."""

    feet: Fraction | None
    millimetres: Fraction | None
    code: str
    edition: str
    status: str


def levelling_class(name: str) -> LevellingClass:
    """What a class of levelling may miss. Raises `KeyError` for a name that is not in the file."""
    row = _tolerances()["levels"][name]
    feet, millimetres = (Fraction(row[unit]) if unit in row else None for unit in ("feet", "millimetres"))
    return LevellingClass(feet, millimetres, row["code"], row["edition"], row["status"])


def tape(feet: Fraction) -> Fraction:
    """Inches that a metal tape of that length may be off. Raises `ValueError` for one longer than the table has."""
    for length, inches in _tolerances()["tape"]["inches"].items():
        if feet <= Fraction(length):
            return Fraction(inches)
    raise ValueError(f"the table has no tape of {feet} ft")


@cache
def _tolerances() -> dict[str, Any]:
    return tomllib.loads(files("assistant.grade").joinpath("tolerances.toml").read_text("utf-8"))
