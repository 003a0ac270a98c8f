"""Whether a place was left within the tolerance, and whether the reading itself is good enough to tell."""

from __future__ import annotations

from fractions import Fraction

import pytest

from assistant.book.store import Book
from assistant.report.contents import contents
from assistant.talk.session import Session

TALK = (
    "rod in tenths",
    "baseline five point oh",
    "confirm",
    "tolerance five hundredths of a foot",
    "confirm",
    "the receiver is good to two hundredths of a foot",
)


@pytest.mark.parametrize(
    ("reading", "verdict"),
    [
        ("5.00", "within"),
        ("5.02", "within"),
        ("4.98", "within"),
        ("5.04", "within, but not surely"),
        ("4.96", "within, but not surely"),
        ("5.06", "out, but not surely"),
        ("4.94", "out, but not surely"),
        ("5.09", "out"),
        ("4.91", "out"),
    ],
)
def test_a_place_nearer_to_the_tolerance_than_the_receiver_can_tell_is_not_told_for_sure(
    reading: str, verdict: str
) -> None:
    """Two hundredths off of five allowed: at most four. Four off: perhaps six. Six off: perhaps four. Nine: seven."""
    with Book.scratch() as book:
        session = Session(book)
        session.begin()
        for said in (*TALK, f"reading {reading} at station ten"):
            session.utterance([said])
        (run,) = contents(book.rows(), "x").runs
    (left,) = run.verdicts
    assert Fraction(2, 100) <= left.doubt < Fraction(3, 100), "the receiver, and little else so near"
    assert left.verdict == verdict


def test_without_a_tolerance_nothing_is_told() -> None:
    with Book.scratch() as book:
        session = Session(book)
        session.begin()
        for said in (*TALK[:3], "reading 5.00 at station ten"):
            session.utterance([said])
        (run,) = contents(book.rows(), "x").runs
    assert run.verdicts == []
