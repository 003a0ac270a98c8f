"""What must hold of every talk, however hostile: see `hostile/talks.py`. None of it was recorded from the program."""

from __future__ import annotations

import sys
from collections.abc import Iterator
from dataclasses import fields, is_dataclass
from fractions import Fraction
from pathlib import Path
from typing import Any

import pytest

sys.path.insert(0, str(Path(__file__).parent / "hostile"))

from talks import SET_UPS, opened, scratch_book, taken, talks

from assistant.book.verify import findings
from assistant.conversation.correcting import meant_by
from assistant.job.kinds import TO_CONFIRM
from assistant.job.records import same
from assistant.job.state import Job
from grammar import spoken
from grammar.meanings import Meaning, Miss, Reading
from grammar.quantities import Length, Marking
from grammar.understand import Context, understand

TALKS = [pytest.param(talk, id=f"{file}: {talk['name']}") for file, talk in talks()]

NOT_WRITTEN = ("question", "dismissed", "place")
"""Kinds of entries that put nothing in the book that could be built by."""


def lengths(value: Any) -> Iterator[Length]:
    """Every length within a meaning."""
    if isinstance(value, Length):
        yield value
    elif isinstance(value, tuple):
        for each in value:
            yield from lengths(each)
    elif is_dataclass(value):
        for field in fields(value):
            yield from lengths(getattr(value, field.name))


def amounts(text: str) -> set[Fraction]:
    """What lengths a sentence can name, on any rod, with a question open or not."""
    contexts = [Context(marking, asking) for marking in (None, *Marking) for asking in (False, True)]
    meanings = [understand(text, context) for context in contexts]
    return {length.amount for meaning in meanings for length in lengths(meaning)}


def texts(step: dict[str, Any]) -> list[str]:
    return step["hear"] if "hear" in step else [step.get("say", step.get("doubted"))]


@pytest.mark.parametrize("talk", TALKS)
def test_nothing_goes_into_the_book_that_was_not_said_read_back_and_confirmed_where_it_must_be(
    talk: dict[str, Any],
) -> None:
    said: set[Fraction] = set()
    for text in SET_UPS[talk.get("rod")] + talk.get("before", []):
        said |= amounts(text)
    with scratch_book() as book:
        session = opened(talk, book)
        asleep = False
        for step in talk["steps"]:
            asked = session.job.question
            for text in texts(step):
                said |= amounts(text)
            outcome = taken(session, step)
            written = [row for row in outcome.rows if row.kind not in NOT_WRITTEN]
            if "doubted" in step or not texts(step) or isinstance(outcome.meaning, Miss) or asleep:
                assert not written, (step, "was not believed, was not understood, or not listened to")
            for row in written:
                meant = meant_by(row)
                assert {length.amount for length in lengths(meant)} <= said, (step, "was never said")
                if isinstance(meant, Reading):
                    assert spoken.show_length(meant.length) in outcome.reply.shown, (step, "is not read back")
                if isinstance(meant, TO_CONFIRM):
                    assert asked is not None and proposed(asked.proposals, meant), (step, "was not asked about")
            asleep = step.get("say") == "go to sleep" or (asleep and step.get("say") != "wake up")
        rows = list(book.rows())
        assert not list(findings(rows))
        assert standing(Job.folded(rows)) == standing(session.job)


def proposed(proposals: tuple[Meaning, ...], meant: Meaning) -> bool:
    return any(same(proposal, meant) for proposal in proposals)


def standing(job: Job) -> list[tuple[str, Any]]:
    """What a job is, but for what could be taken back."""
    state = {field.name: getattr(job, field.name) for field in fields(job)}
    state.pop("_undo")
    state["last_reading"] = [record.row for record in job.readings()]
    return sorted(state.items())


def test_there_are_two_hundred() -> None:
    assert len(TALKS) >= 200
