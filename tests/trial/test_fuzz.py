"""No line stops a talk, in any state; and the fuzzer that says so sees what it is there to see."""

from __future__ import annotations

import pytest

from assistant.conversation import repairs
from assistant.job.state import Job
from assistant.lab.trial import fuzz
from grammar import understand

LINES = 6000
STATES = 60
"""So many kinds of states are met by so many lines, and more."""


def test_nothing_that_is_said_raises_or_spoils_the_book() -> None:
    found = fuzz.whole((LINES, 11))
    assert not found.troubles, found.examples
    assert found.lines == LINES
    assert len(found.states) > STATES
    assert 0.1 < found.understood / found.lines < 0.9
    assert found.entries > LINES / 100
    assert found.questions > LINES / 200


def test_another_seed_says_other_lines() -> None:
    one, other, again = (fuzz.whole((300, seed)) for seed in (1, 2, 1))
    assert (one.understood, one.entries, one.states) == (again.understood, again.entries, again.states)
    assert one.states != other.states


def test_a_crash_of_the_answer_is_seen(monkeypatch: pytest.MonkeyPatch) -> None:
    def broken(*_: object) -> None:
        raise IndexError

    monkeypatch.setattr(repairs, "unchanged", broken)
    monkeypatch.setattr("assistant.conversation.correcting.unchanged", broken)
    found = fuzz.whole((3000, 1))
    (trouble,) = found.troubles
    assert trouble.startswith("IndexError in test_fuzz.py")


def test_a_crash_of_the_understanding_is_seen(monkeypatch: pytest.MonkeyPatch) -> None:
    def broken(*_: object) -> None:
        raise KeyError

    monkeypatch.setattr(understand, "_could_follow", broken)
    assert fuzz.whole((100, 1)).troubles


def test_a_job_that_the_book_does_not_give_back_is_seen(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(Job, "folded", classmethod(lambda cls, rows: cls()))
    assert "the book gives back another job" in fuzz.whole((200, 1)).troubles
