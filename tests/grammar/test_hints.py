"""A miss says what could have stood there, in a few words that are true."""

from __future__ import annotations

import pytest

from grammar.meanings import Miss
from grammar.quantities import Marking
from grammar.understand import Context, understand

COULD = [
    ("reading", "a number"),
    ("reading potato", "a number"),
    ("reading at forty", "a number"),
    ("reading three foot nine at", "a station"),
    ("rod in", "inches"),
    ("rod in", "feet"),
    ("tolerance two", "inches"),
    ("line from station zero", "falling or rising"),
    ("scratch", "that"),
    ("what is two percent in", "percent"),
    ("yes", "confirm"),
    ("yes", "never mind"),
    ("no", "never mind"),
    ("undo", "scratch that"),
]

COULD_NOT = [
    ("how much fall in sixty feet", "a station"),
    ("line from station zero falling", "a station"),
]


@pytest.mark.parametrize(("text", "hint"), COULD)
def test_could_follow(text: str, hint: str) -> None:
    assert hint in hints(text)


@pytest.mark.parametrize(("text", "hint"), COULD_NOT)
def test_could_not_follow(text: str, hint: str) -> None:
    assert hint not in hints(text)


def hints(text: str) -> tuple[str, ...]:
    got = understand(text, Context(Marking.INCHES))
    assert isinstance(got, Miss)
    return got.could_follow
