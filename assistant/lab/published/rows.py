"""The published values: what each says, where it was found, and how the engine answers it."""

from __future__ import annotations

import re
from collections.abc import Iterator
from dataclasses import dataclass, field
from fractions import Fraction
from importlib.resources import files
from typing import Any

from assistant.lab.published.checks import CHECKS
from grammar.spoken import half_up

STATUSES = (
    "read",
    "quotes a standard that was not read",
    "inputs read, answer computed",
    "arithmetic",
    "common practice, no source",
    "from memory",
)
"""How a value was obtained, strongest first. What is from memory never gates."""

SECTIONS = ("L", "T", "P", "R", "S-", "D", "O", "F", "H", "X", "G", "C", "M", "V", "B", "Y", "W", "DX")
"""Beginnings of ids, in the order of the tables: levels, then drainage and dirt; DX are the misprints of those."""

FINE = 9
"""Decimals kept of an answer that is compared with a tolerance."""


@dataclass(frozen=True)
class Published:
    """One row.

    Answers are compared with `expected` after rounding half up, once, to `places` decimals; or, where the source
    gives a tolerance, they may be off by `within`. None may be what `misprint` has, which was printed wrong.
    """

    id: str
    what: str
    check: str
    inputs: list[Any]
    expected: list[Any]
    places: int
    source: str
    status: str
    within: str | None = None
    misprint: list[Any] = field(default_factory=list)

    @property
    def table_id(self) -> str:
        """The id in the tables: a row there may be several here, told apart by a letter."""
        return self.id.rstrip("abcdefgh")

    @property
    def gates(self) -> bool:
        """Whether a difference is a defect."""
        return self.status != "from memory"

    def answers(self) -> list[Any]:
        """What the engine says, rounded."""
        found = CHECKS[self.check](*exact(self.inputs))
        every = list(found) if isinstance(found, (list, tuple)) else [found]
        return [answer if isinstance(answer, str) else self._rounded(Fraction(answer)) for answer in every]

    def wanted(self) -> list[Any]:
        """What was published, exactly as printed."""
        return [exact(value) for value in self.expected]

    def passes(self) -> bool:
        """Whether the engine says what was published, and not what was misprinted."""
        found, wanted = self.answers(), self.wanted()
        same = len(found) == len(wanted) and all(map(self._same, found, wanted))
        return same and not any(self._printed(answer) in exact(self.misprint) for answer in found)

    def _printed(self, answer: Any) -> Any:
        return answer if isinstance(answer, str) else half_up(answer, Fraction(1, 10**self.places))

    def _same(self, answer: Any, value: Any) -> bool:
        if self.within is None or isinstance(answer, str) or isinstance(value, str):
            return bool(answer == value)
        return bool(abs(answer - value) <= Fraction(self.within))

    def _rounded(self, answer: Fraction) -> Fraction:
        return half_up(answer, Fraction(1, 10 ** (self.places if self.within is None else FINE)))


@dataclass(frozen=True)
class LeftOut:
    """Rows of the tables that are not here, and why."""

    ids: list[str]
    reason: str


def rows() -> list[Published]:
    """Every row of the data files, in the order of the tables."""
    folder = files("assistant.lab.published").joinpath("values")
    found = [Published(**data) for file in folder.iterdir() if file.name.endswith(".yaml") for data in _load(file)]
    return sorted(found, key=lambda row: place(row.id))


def left_out() -> list[LeftOut]:
    """What is not here, grouped by the reason."""
    return [LeftOut(**data) for data in _load(files("assistant.lab.published").joinpath("left_out.yaml"))]


def place(row_id: str) -> tuple[int, str]:
    """Where an id stands in the order of the tables. Raises `ValueError` for one that no table has."""
    match = re.fullmatch(r"([A-Z]+-?)(\d\d[a-h]?)", row_id)
    if match is None:
        raise ValueError(f"{row_id!r} is no id")
    return SECTIONS.index(match[1]), match[2]


def exact(value: Any) -> Any:
    """Numbers, and texts that are numbers, as fractions; lists item by item; anything else unchanged."""
    if isinstance(value, list):
        return [exact(item) for item in value]
    try:
        return Fraction(str(value))
    except ValueError:
        return value


def _load(file: Any) -> Iterator[dict[str, Any]]:
    import yaml

    yield from yaml.load(file.read_text("utf-8"), getattr(yaml, "CSafeLoader", yaml.SafeLoader)) or []
