"""Properties of a job: taking back, order, and units."""

from __future__ import annotations

from dataclasses import fields
from datetime import UTC, datetime
from fractions import Fraction
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from assistant.book.store import Book
from assistant.job.state import Job
from assistant.talk.session import Session

BEFORE = (
    "rod in tenths",
    "benchmark number one at one hundred",
    "backsight four point two five on benchmark number one",
    "line from station zero at elevation ninety nine falling two percent",
    "reading five point two at station ten",
)

TAKEN_BACK = (
    "rod in feet and inches",
    "the rod is sixteen feet long",
    "my pace is two and a half feet",
    "tolerance a quarter inch",
    "question readings more than two feet off",
    "the receiver is good to an eighth inch",
    "the laser is two hundred feet away",
    "the laser dials up to ten percent",
    "the stations are paced",
    "the laser is good to point oh one feet in one hundred feet",
    "baseline four point two at station zero",
    "benchmark ninety nine",
    "benchmark number two at ninety eight",
    "backsight four point one",
    "foresight five point one",
    "close on the benchmark four point two five",
    "check the backsight four point two five",
    "check the backsight four point five",
    "check the benchmark number one reading four point two five",
    "peg test from the middle four point two then four point one",
    "beam check four point two then four point one over fifty feet",
    "turn check four point two then four point two at one hundred feet",
    "line from station zero at elevation ninety eight falling one percent",
    "bend at station fifty falling one percent",
    "drop two tenths of a foot at station sixty",
    "branch at station fifty falling one percent",
    "crown two percent",
    "first leg falling two percent then turn ninety left falling one percent",
    "steepest fall two percent turned thirty left",
    "plane through four point two at station ten offset ten left",
    "dig five inches below grade",
    "pipe eight inches wall half an inch bedding four inches",
    "batter boards seven feet above grade",
    "slope stakes bed twenty four feet at two to one",
    "swell twenty five percent",
    "a load is twelve yards",
    "reading five point five at station twenty",
    "stake four point one at station twenty",
    "blue top five point five at station twenty",
)

INDEPENDENT = (
    "the rod is sixteen feet long",
    "my pace is two and a half feet",
    "tolerance a quarter inch",
    "question readings more than two feet off",
    "the receiver is good to an eighth inch",
    "the laser dials up to ten percent",
    "the stations are paced",
    "swell twenty five percent",
    "a load is twelve yards",
    "batter boards seven feet above grade",
)


def talked(*sentences: str) -> Session:
    """A talk in which all of them were said, and what asks for it was confirmed."""
    session = Session(Book.scratch(lambda: datetime(2026, 5, 4, 7, 30, tzinfo=UTC)))
    session.begin()
    for sentence in sentences:
        say(session, sentence)
    return session


def say(session: Session, sentence: str) -> None:
    outcome = session.utterance([sentence])
    if outcome.reply.asks:
        outcome = session.utterance(["confirm"])
    assert outcome.rows, f"{sentence}: {outcome.reply.shown}"


def state(job: Job) -> dict[str, Any]:
    """All that the job is, but for what could be taken back and the place last asked about."""
    return {field.name: getattr(job, field.name) for field in fields(job) if field.name != "_undo"}


@pytest.mark.parametrize("sentence", TAKEN_BACK)
def test_scratch_restores_the_job_exactly(sentence: str) -> None:
    session = talked(*BEFORE)
    before = state(session.job)
    say(session, sentence)
    session.utterance(["scratch that"])
    assert state(session.job) == before


@given(st.lists(st.sampled_from(TAKEN_BACK), max_size=6))
@settings(max_examples=40)
def test_scratching_all_of_it_leads_back_to_the_start(sentences: list[str]) -> None:
    session = talked(*BEFORE)
    before, written = state(session.job), 0
    for sentence in sentences:
        outcome = session.utterance([sentence])
        if outcome.reply.asks:
            outcome = session.utterance(["confirm"])
        written += any(row.kind not in ("question", "dismissed", "place") for row in outcome.rows)
        if session.job.question is not None:
            session.utterance(["never mind"])
    for _ in range(written):
        session.utterance(["scratch that"])
    assert state(session.job) == before


@given(st.permutations(INDEPENDENT))
@settings(max_examples=30)
def test_the_order_of_independent_entries_does_not_matter(sentences: list[str]) -> None:
    def amounts(job: Job) -> dict[str, Any]:
        return {name: value for name, value in state(job).items() if name != "place_named_by"}

    assert amounts(talked("rod in tenths", *sentences).job) == amounts(talked("rod in tenths", *INDEPENDENT).job)


@given(st.integers(2, 9), st.integers(2, 9), st.integers(1, 40), st.integers(0, 8))
@settings(max_examples=40)
def test_any_unit_gives_the_same_answer(baseline: int, reading: int, station: int, eighths: int) -> None:
    """Lengths in steps of five quarters of a foot, which are 381 mm: the cut is exactly the same in all three."""
    found = set()
    for rod, length, place in (
        (
            "rod in feet and inches",
            lambda n: f"{n * 5 // 4} ft {Fraction(n * 15 % 12)} in",
            lambda n: f"{n * 5 / 4} feet",
        ),
        ("rod in tenths", lambda n: f"{n * 5 / 4} ft", lambda n: f"{n * 5 / 4} feet"),
        ("rod in metres", lambda n: f"{n * 0.381:.3f} m", lambda n: f"{n * 0.381:.3f} m"),
    ):
        session = talked(rod, f"baseline {length(baseline)} at station {place(0)}")
        say(
            session,
            f"line from station {place(0)} falling {eighths}/8 percent" if eighths % 8 else "level line from zero",
        )
        say(session, f"reading {length(reading)} at station {place(station)}")
        record = session.job.last_reading
        assert record is not None and record.grade is not None
        found.add((record.payload["grade_rod_ft"], record.grade.amount))
    assert len(found) == 1, found
