"""What was read against another design is not counted as dirt of this one, nor worked out anew."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import UTC, datetime

import pytest

from assistant.book.store import Book
from assistant.talk.session import Session

YARD = ("rod in tenths", "baseline five point oh at station zero", "level line from station zero")
READ = tuple(
    f"reading four point three at station {place}"
    for place in ("zero", "ninety", "zero offset thirty left", "ninety offset thirty left")
)
LEAN = (
    "rod in tenths",
    "baseline five point oh at station zero",
    "line from station zero reading five falling one percent",
)
DIRT = "From 4 readings: cut 70.0 cubic yards"
"""By hand: 0.7 ft over 90 by 30 ft is 1890 cubic feet."""


def talked(sentences: Sequence[str]) -> Session:
    """All said, and confirmed where that is asked for."""
    session = Session(Book.scratch(lambda: datetime(2026, 5, 4, 7, 30, tzinfo=UTC)))
    session.begin()
    for sentence in sentences:
        outcome = session.utterance([sentence])
        if outcome.reply.asks:
            outcome = session.utterance(["confirm"])
        assert outcome.rows, f"{sentence}: {outcome.reply.shown}"
    return session


def told(session: Session, question: str) -> str:
    return session.utterance([question]).reply.shown


@pytest.mark.parametrize(
    "design",
    [
        ("line from station zero falling one percent",),
        ("line from station zero at elevation ninety nine falling two percent",),
        ("bend at station fifty falling one percent",),
        ("drop two tenths of a foot at station sixty",),
        ("branch at station fifty falling one percent",),
        ("crown two percent",),
        ("dig five inches below grade",),
        ("pipe eight inches wall half an inch bedding four inches",),
        ("first leg falling two percent then turn ninety left falling one percent",),
        ("steepest fall two percent turned thirty left",),
        tuple(
            f"plane through five point oh at station {at}"
            for at in ("zero offset ten left", "fifty offset ten left", "zero offset fifty left")
        ),
        ("baseline four point nine at station ten",),
    ],
    ids="; ".join,
)
def test_another_design_starts_the_dirt_afresh(design: tuple[str, ...]) -> None:
    session = talked((*YARD, *READ))
    assert told(session, "how much dirt").startswith(DIRT)
    session = talked((*YARD, *READ, *design))
    assert told(session, "how much dirt").startswith("Read at least three places")
    refused = told(session, "change the reading at station ninety to four point four")
    assert "was read before the set-up or the design changed" in refused
    session.utterance(["reading four point three at station thirty"])
    assert told(session, "how much dirt").startswith("Read at least three places"), "one reading is no area"


@pytest.mark.parametrize(
    "sentence",
    [
        "tolerance a quarter inch",
        "the stations are paced",
        "the laser is two hundred feet away",
        "check the baseline five point oh",
        "batter boards seven feet above grade",
        "stake four point one at station twenty",
        "plane through four point two at station ten offset ten left",
        "benchmark one hundred",
    ],
)
def test_what_is_no_design_leaves_the_dirt_alone(sentence: str) -> None:
    session = talked((*YARD, *READ, sentence))
    assert told(session, "how much dirt").startswith(DIRT)
    assert told(session, "change the reading at station ninety to four point four").startswith("Instead of 4.3 ft")


def test_a_line_from_the_baseline_outlives_a_new_reading_of_it() -> None:
    """The instrument was set up anew: the ground that was read is still so far over the same line."""
    session = talked((*YARD, *READ, "baseline four point nine at station zero"))
    assert told(session, "how much dirt").startswith(DIRT)
    refused = told(session, "change the reading at station ninety to four point four")
    assert "was read before the set-up or the design changed" in refused


@pytest.mark.parametrize("before", [LEAN, YARD[:2]], ids=["a line by a reading", "the level of the baseline"])
@pytest.mark.parametrize(
    "set_up",
    [("baseline four point eight at station zero",), ("benchmark one hundred", "backsight four point two")],
    ids=["baseline", "backsight"],
)
def test_a_set_up_that_ends_a_design_ends_its_dirt(before: tuple[str, ...], set_up: tuple[str, ...]) -> None:
    session = talked((*before, *READ, *set_up))
    assert session.job.line is None
    assert told(session, "how much dirt").startswith("Read at least three places")
