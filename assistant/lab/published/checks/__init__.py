"""The engine asked for what a row of published values tells: checks by name, one module a subject.

Each takes the inputs of a row as fractions (or words) and returns one answer or several. Lengths are in the unit of
the row, slopes in percent unless a unit is among the inputs.
"""

from __future__ import annotations

from collections.abc import Callable
from importlib import import_module
from typing import Any

SUBJECTS = (
    "codes",
    "concrete",
    "dirt",
    "instrument",
    "lengths",
    "levels",
    "notes",
    "pipes",
    "planes",
    "slopes",
    "spoken",
    "stakes",
)


def _gathered() -> dict[str, Callable[..., Any]]:
    found: dict[str, Callable[..., Any]] = {}
    for subject in SUBJECTS:
        checks: dict[str, Callable[..., Any]] = import_module(f"{__name__}.{subject}").CHECKS
        if again := found.keys() & checks.keys():
            raise ValueError(f"checks by the same name: {', '.join(sorted(again))}")
        found |= checks
    return found


CHECKS = _gathered()
"""Every check by its name."""
