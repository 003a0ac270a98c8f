"""A mistake of ours is answered and logged; the talk goes on, and the book says what it said."""

from __future__ import annotations

import logging
from typing import Any

import pytest

from assistant.book.store import Book
from assistant.job import folding
from assistant.talk import session
from assistant.talk.session import Session

SET_UP = ("rod in feet and inches", "baseline four foot two at station zero", "confirm")


@pytest.fixture
def talk() -> Session:
    opened = Session(Book.scratch())
    opened.begin()
    for line in SET_UP:
        opened.utterance([line])
    return opened


def broken(*_: Any, **__: Any) -> Any:
    raise ZeroDivisionError("of ours")


def test_what_fails_before_it_is_written_is_not(
    talk: Session, monkeypatch: pytest.MonkeyPatch, caplog: pytest.LogCaptureFixture
) -> None:
    with monkeypatch.context() as patch, caplog.at_level(logging.ERROR):
        patch.setattr(session, "respond", broken)
        outcome = talk.utterance(["reading four foot six"])
    assert outcome.reply.shown == "Something broke in me. Nothing was written. Say it another way."
    assert not outcome.rows
    assert not outcome.understood
    assert "of ours" in caplog.text
    assert talk.utterance(["say again"]).reply == outcome.reply
    after = talk.utterance(["reading four foot six"])
    assert [row.kind for row in after.rows] == ["reading"]


def test_what_fails_after_it_is_written_says_so(talk: Session, monkeypatch: pytest.MonkeyPatch) -> None:
    real = folding.CHANGES["reading"]
    with monkeypatch.context() as patch:
        patch.setitem(folding.CHANGES, "reading", broken)
        outcome = talk.utterance(["reading four foot six"])
    assert outcome.reply.shown == "That is in the book, but something broke in me after. Check the book."
    assert [row.kind for row in outcome.rows] == ["reading"]
    assert folding.CHANGES["reading"] is real
    assert talk.utterance(["scratch that"]).reply.shown == "Scratched 4 ft 6 in at 0+00."


def test_a_line_beyond_all_sentences_is_refused_and_kept_short(talk: Session) -> None:
    talk.utterance(["tolerance a quarter inch"])
    outcome = talk.utterance(["confirm " * 100_000])
    assert len(outcome.heard) < 2000
    assert [row.kind for row in outcome.rows] == ["question"]
    assert talk.job.tolerance is None
