"""Limits of codes and standards, from `codes.toml` and `safety.toml`: what each says, and where it is from."""

from __future__ import annotations

import tomllib
from dataclasses import dataclass
from fractions import Fraction
from functools import cache
from importlib.resources import files
from typing import Any


@dataclass(frozen=True)
class Limit:
    """A slope as rise over run, the code with its edition in figures and in words, and how we know."""

    slope: Fraction
    code: str
    spoken: str
    status: str


@dataclass(frozen=True)
class Figure:
    """One published figure: `amount` in `unit` (slopes are rise over run), the `bound` that it is, and its source."""

    amount: Fraction
    unit: str
    bound: str
    code: str
    edition: str
    status: str


def figure(name: str) -> Figure:
    """A figure of a code, a manual or a rule of safety. Raises `KeyError` for a name that is not in the files."""
    figures = _codes()["figures"] | _safety()["figures"]
    row = figures[name]
    edition = row.get("edition", "")
    return Figure(Fraction(row["amount"]), row["unit"], row["bound"], row["code"], edition, row["status"])


def slope_by_size(table: str, inches: Fraction) -> Figure:
    """The least slope that a table has for a pipe so wide inside; between two sizes that of the smaller, the steeper.

    Raises `KeyError` for a table that is not in the file, and `ValueError` for a size below its first.
    """
    row = _codes()["by-size"][table]
    reached = [size for size in row["slopes"] if Fraction(size) <= inches]
    if not reached:
        raise ValueError(f"{table} has no pipe as small as {inches} in")
    slope = Fraction(row["slopes"][max(reached, key=Fraction)])
    return Figure(slope, "slope", "least", row["code"], row["edition"], row["status"])


def trench_width(rule: str, outside: Fraction) -> Fraction:
    """Inches of trench by a local rule for a pipe of that outside diameter. Raises `KeyError` for another rule."""
    terms = _codes()["trench-width"][rule]["terms"]
    return max(Fraction(factor) * outside + Fraction(more) for factor, more in terms)


def limit(name: str) -> Limit:
    """The limit for a "ramp" (steepest), a "cross-slope" (steepest) or the ground at a "building" (least).

    Raises `KeyError` for another name.
    """
    return _limit(_codes()[name])


def least_pipe_slope(inches: Fraction) -> Limit:
    """The least slope of a horizontal drain pipe that is so wide inside.

    Sizes between those of the table take the steeper slope of the smaller size.
    """
    for row in _codes()["pipe"]:
        if "most_inches" not in row or inches <= Fraction(row["most_inches"]):
            return _limit(row)
        if Fraction(row["most_inches"]) < inches < _NEXT[row["most_inches"]]:
            return _limit(row)
    raise AssertionError("the last row has no end")


_NEXT = {"2.5": Fraction(3), "6": Fraction(8)}
"""The next size in the table."""


def _limit(row: dict[str, Any]) -> Limit:
    return Limit(Fraction(row["slope"]), row["code"], row["spoken"], row["status"])


@cache
def _codes() -> dict[str, Any]:
    return _read("codes.toml")


@cache
def _safety() -> dict[str, Any]:
    return _read("safety.toml")


def _read(file: str) -> dict[str, Any]:
    return tomllib.loads(files("assistant.grade").joinpath(file).read_text("utf-8"))
