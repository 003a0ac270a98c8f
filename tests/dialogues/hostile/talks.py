"""Reads and lives through the hostile talks beside this file.

A step is typed (`say`), heard (`hear`: guesses at the words, best first; none for noise), or `doubted`: heard,
and not believed. `rod` names a set-up that comes before. What must hold of them all is in `test_hostile.py`.
"""

from __future__ import annotations

from collections.abc import Iterator
from datetime import UTC, datetime
from pathlib import Path
from typing import Any
from unittest.mock import patch

import yaml

from assistant.book.store import Book
from assistant.doubting.evidence import Evidence
from assistant.doubting.judge import Decision, Verdict
from assistant.talk.session import Outcome, Session
from grammar.understand import understand

HERE = Path(__file__).parent

SET_UPS = {
    None: [],
    "inches": ["rod in feet and inches"],
    "tenths": ["rod in tenths"],
    "metres": ["rod in metres"],
    "drain": [
        "rod in feet and inches",
        "baseline four foot two at station zero",
        "confirm",
        "line from station zero falling two percent",
        "confirm",
    ],
    "tenths drain": [
        "rod in tenths",
        "baseline 4.20 at 0+00",
        "confirm",
        "line from station zero falling two percent",
        "confirm",
    ],
    "metric drain": [
        "rod in metres",
        "baseline 1.270 m at 0 m",
        "confirm",
        "line from 0 m falling two percent",
        "confirm",
    ],
    "levels": ["rod in tenths", "benchmark one hundred", "confirm", "backsight 4.25", "confirm"],
}


def talks() -> Iterator[tuple[str, dict[str, Any]]]:
    """Every talk, with the name of its file."""
    for path in sorted(HERE.glob("*.yaml")):
        for talk in yaml.safe_load(path.read_text("utf-8")):
            yield path.stem, talk


def opened(talk: dict[str, Any], book: Book) -> Session:
    """A session after the set-up of a talk."""
    session = Session(book)
    session.begin()
    for said in SET_UPS[talk.get("rod")] + talk.get("before", []):
        session.utterance([said])
    return session


def scratch_book() -> Book:
    """A book at half past seven of a May morning."""
    return Book.scratch(lambda: datetime(2026, 5, 4, 7, 30, tzinfo=UTC))


def taken(session: Session, step: dict[str, Any]) -> Outcome:
    """One step of a talk."""
    if "say" in step:
        return session.utterance([step["say"]])
    if "hear" in step:
        return session.utterance(step["hear"], engine="ear")
    text = step["doubted"]
    verdict = Verdict(Decision.AGAIN, text, understand(text, session.context), wrong=0.5)
    with patch("assistant.talk.session.judge", return_value=verdict):
        spoken = Evidence((((text, 0.0),),), seconds=2.0, above_noise=20.0, over=20.0)  # a person, not noise
        return session.utterance([text], engine="ear", evidence=spoken)
