"""Limits of codes and standards, from `codes.toml`: what each says, and where it is from."""

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
    return tomllib.loads(files("assistant.grade").joinpath("codes.toml").read_text("utf-8"))
