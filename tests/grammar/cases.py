"""Sentence cases: reading the YAML files, and writing meanings as they do.

A length is written "15/4 inches 1/12": amount in feet (inches, tenths) or metres (metric), marking,
step; without the step, any will do. A place is the length from station zero, a slope "2 percent",
a number of steps "18 paces".
"""

from __future__ import annotations

import re
from collections.abc import Iterator
from dataclasses import dataclass, fields, is_dataclass
from fractions import Fraction
from pathlib import Path
from typing import Any

import yaml

from grammar.meanings import Answer, Meaning, Miss
from grammar.quantities import Across, Bearing, Length, Marking, Paces, SideSlope, Slope, Spot, Station, Turn
from grammar.understand import Context, understand

FOLDER = Path(__file__).parents[1] / "sentences"

RODS = {
    "inches": Marking.INCHES,
    "tenths": Marking.TENTHS,
    "metric": Marking.METRIC,
    "none": None,
}
NAMES = {marking: name for name, marking in RODS.items()}


REASONS = {
    "nothing",
    "unknown word",
    "not a sentence",
    "no lead word",
    "unfinished",
    "not a number",
    "rod unknown",
    "bare on metric",
    "plus on metric",
    "which",
    "inches",
    "fraction",
    "lone number",
    "half a correction",
    "too long",
}
"""The reasons that `Miss` documents."""


@dataclass(frozen=True)
class Case:
    """One sentence on one rod, with what it must mean or why it must be refused."""

    topic: str
    data: dict[str, Any]

    @property
    def name(self) -> str:
        asking = " asking" if self.data.get("asking") else ""
        return f"{self.topic}: {self.data['say']} [{self.data['rod']}{asking}]"

    def understood(self) -> Meaning | Miss:
        context = Context(RODS[self.data["rod"]], self.data.get("asking", False))
        return understand(self.data["say"], context)

    def check(self) -> None:
        """Raise `AssertionError` where the sentence is understood otherwise."""
        got = self.understood()
        if "means" in self.data:
            assert agrees(written(got), self.data["means"]), f"{got}"
            return
        assert isinstance(got, Miss), f"{got}"
        assert got.reason == self.data["refused"], f"{got}"
        if "about" in self.data:
            assert got.about == self.data["about"]
        if "choices" in self.data:
            choices = [written(choice) for choice in got.choices]
            assert len(choices) == len(self.data["choices"])
            assert all(map(agrees, choices, self.data["choices"])), f"{choices}"


def cases() -> Iterator[Case]:
    """Every case of the topic files."""
    for path in sorted(FOLDER.glob("*.yaml")):
        for data in yaml.safe_load(path.read_text("utf-8")):
            yield Case(path.stem, data)


def kind(meaning: object) -> str:
    """`DesignLine` is "design line"."""
    return re.sub(r"(?<!^)(?=[A-Z])", " ", type(meaning).__name__).lower()


def written(value: Any) -> Any:
    """A meaning as the YAML files write it."""
    match value:
        case Length():
            return f"{value.amount} {NAMES[value.marking]} {value.step}"
        case Station():
            along, aside = written(value.distance), value.offset
            return along if aside is None else f"{along} offset {written(aside.distance)} {aside.side.value}"
        case Spot():
            return f"{value.name} {value.number}"
        case SideSlope():
            return f"{value.across} to 1"
        case bool():
            return value
        case Fraction():
            return str(value)
        case Across():
            return value.value
        case Slope():
            return f"{value.amount} {value.unit.value}"
        case Paces():
            return f"{value.count} paces"
        case Turn():
            return f"{value.degrees} {value.side.value}"
        case Bearing():
            return f"bearing {value.degrees}"
        case Marking():
            return NAMES[value]
        case None | int() | str():
            return value
        case tuple():
            return [written(each) for each in value]
    assert is_dataclass(value)
    said = {f.name: getattr(value, f.name) for f in fields(value)}
    if said.get("bearing", "none") is None:  # most planes are told by a turn
        del said["bearing"]
    if isinstance(value, Answer) and value.slope is None:  # most answers are another number
        del said["slope"]
    return {"kind": kind(value)} | {name: written(part) for name, part in said.items()}


def agrees(got: Any, wanted: Any) -> bool:
    """Whether a written meaning is the wanted one; a length without a step agrees with any step."""
    if isinstance(wanted, dict):
        return (
            isinstance(got, dict)
            and got.keys() == wanted.keys()
            and all(agrees(got[name], wanted[name]) for name in wanted)
        )
    if isinstance(wanted, list):
        return isinstance(got, list) and len(got) == len(wanted) and all(map(agrees, got, wanted))
    if isinstance(wanted, str) and re.fullmatch(r"\S+ (inches|tenths|metric)", wanted):
        return isinstance(got, str) and got.rpartition(" ")[0] == wanted
    return bool(got == wanted)
