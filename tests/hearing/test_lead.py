"""With a lead word the open microphone hears only what begins with it, and answers to a question."""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np
import pytest
from fixtures import aloud

from assistant.book.store import Book
from assistant.hearing.ears import open_ear
from assistant.hearing.lead import LEAD, LedEar, led
from assistant.hearing.port import SAMPLE_RATE, Ear, Samples
from assistant.talk.listening import listen
from assistant.talk.session import Outcome, Session
from grammar.automaton import compile_language
from grammar.quantities import Marking


@pytest.fixture(scope="module")
def ear() -> Ear:
    return open_ear(None, None)


def said(*texts: str) -> Iterator[Samples]:
    """The texts, a second and a half apart."""
    quiet = np.random.default_rng(1).normal(0, 8, SAMPLE_RATE * 3 // 2).astype(np.int16)
    for text in texts:
        yield quiet
        yield aloud(text)
    yield quiet


def talk(ear: Ear, *texts: str) -> list[Outcome]:
    session = Session(Book.scratch())
    session.utterance(["rod in feet and inches"])
    led_ear = LedEar(ear, lambda: session.job.question is None)
    return [outcome for outcome in listen(session, led_ear, said(*texts)) if outcome.reply.spoken]


def test_the_sentences_are_the_same_after_the_word_and_without_it() -> None:
    plain = compile_language("sentence", Marking.INCHES)
    for sentence in plain.walks(200, 3):
        assert led(plain).accepts(f"{LEAD} {sentence}")
        assert led(plain).accepts(sentence)
        assert not led(plain).accepts(f"{LEAD} {LEAD} {sentence}")
    assert not led(plain).accepts(LEAD)


def test_what_begins_with_the_word_is_heard_and_told_without_it(ear: Ear) -> None:
    (outcome,) = talk(ear, f"{LEAD} what should i read at station sixty")
    assert outcome.heard == "what should i read at station sixty"


def test_the_same_without_the_word_is_not(ear: Ear) -> None:
    assert talk(ear, "what should i read at station sixty", "reading three foot nine at station forty") == []


def test_a_question_is_answered_without_the_word(ear: Ear) -> None:
    outcomes = talk(ear, f"{LEAD} baseline three foot nine at station zero", "confirm")
    assert [o.heard for o in outcomes] == ["baseline three foot nine at station zero", "confirm"]
    assert [row.kind for row in outcomes[-1].rows] == ["baseline"]


def test_the_model_knows_the_word(ear: Ear) -> None:
    assert LedEar(ear, lambda: True).missing_words(compile_language("sentence")) == []
