"""A phone's sound is listened to as any other: half a sentence is waited for, and a loud site is told of."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, field
from datetime import UTC, datetime

import numpy as np
import pytest
from listening.test_tails import SET_UP, SHORT, WHOLE, ByLength, sound

from assistant.book.store import Book
from assistant.doubting.evidence import Evidence
from assistant.hearing.port import SAMPLE_RATE, Hypothesis, Samples, Word
from assistant.page.hearing import Utterance
from assistant.page.talk import Origin, Talk
from assistant.talk.listening import Heard
from grammar.automaton import Automaton
from grammar.quantities import Marking
from grammar.understand import Context

FRAME = 640
"""Samples of a message of a phone: 40 ms."""


@dataclass
class OnARod:
    """A talk in which the rod is known."""

    context: Context = field(default_factory=lambda: Context(Marking.INCHES))
    doubting: bool = False


def frames(*parts: float | str) -> Iterator[Samples]:
    whole = np.concatenate(list(sound(*parts)))
    yield from (whole[at : at + FRAME] for at in range(0, len(whole), FRAME))


def tapped(one: str, two: str, *parts: float | str) -> tuple[Heard | None, int]:
    """What a phone is told to have heard after a tap, and how many frames it sent: it ends where it is told to."""
    utterance, sent = Utterance(ByLength(one, two), OnARod()), 0
    for frame in frames(*parts):
        utterance.feed(frame.astype("<i2").tobytes())
        sent += 1
        if utterance.ended:
            break
    return utterance.whole(), sent


@pytest.mark.parametrize(
    ("one", "pause", "text"),
    [
        ("reading four foot six", 0.7, WHOLE),  # the place may come
        ("reading four foot six at", 0.9, WHOLE),
        ("reading four foot six at", 1.6, "reading four foot six at"),
        (WHOLE, 0.9, WHOLE),
    ],
)
def test_half_a_sentence_is_waited_for_after_a_tap(one: str, pause: float, text: str) -> None:
    heard, _ = tapped(one, WHOLE, 0.5, SHORT, pause, SHORT, 2.0)
    assert heard is not None
    assert heard.guesses == (text,)


def test_a_whole_sentence_ends_at_once() -> None:
    _, whole = tapped(WHOLE, WHOLE, 0.5, SHORT, 2.0)
    _, half = tapped("reading four foot six", WHOLE, 0.5, SHORT, 2.0)
    assert (half - whole) * FRAME == pytest.approx(0.6 * 16_000, abs=2 * FRAME)


def test_what_a_hand_holds_is_one_however_long_the_pause() -> None:
    utterance = Utterance(ByLength(WHOLE, "reading four foot seven at station forty"), OnARod())
    for frame in frames(0.5, SHORT, 2.5, SHORT, 1.0):
        utterance.feed(frame.astype("<i2").tobytes())
    heard = utterance.whole()
    assert heard is not None
    assert heard.guesses == ("reading four foot seven at station forty",)


def test_words_are_told_while_they_come() -> None:
    utterance = Utterance(ByLength(WHOLE, WHOLE), OnARod())
    told = [utterance.feed(frame.astype("<i2").tobytes()) for frame in frames(0.5, SHORT, 0.2, SHORT)]
    assert WHOLE in told


class ByTail(ByLength):
    """Hears the last word whole only with enough silence after it, as an ear does."""

    def hear(self, samples: Samples, language: Automaton) -> tuple[Hypothesis, ...]:
        quiet = len(samples) - np.flatnonzero(np.abs(samples) > 200)[-1]
        text = self.two if quiet >= 0.25 * SAMPLE_RATE else self.one
        return (Hypothesis(tuple(Word(word, 0.0, 0.0) for word in text.split()), 100.0),)


@pytest.mark.parametrize("first", range(0, FRAME * 16, FRAME))
def test_words_for_the_eye_are_not_those_that_are_taken(first: int) -> None:
    """Whenever they were worked out: a moment before the voice fell silent the last word was not whole."""
    utterance = Utterance(ByTail("reading four foot six at station four", WHOLE), OnARod())
    whole = np.concatenate(list(sound(0.5, SHORT, SHORT, 1.5)))[first:]
    for at in range(0, len(whole), FRAME):
        utterance.feed(whole[at : at + FRAME].astype("<i2").tobytes())
    heard = utterance.whole()
    assert heard is not None
    assert heard.guesses == (WHOLE,)


def test_a_loud_site_is_told_of_on_a_phone_too() -> None:
    talk = Talk(Book.scratch(lambda: datetime(2026, 5, 4, 7, 30, tzinfo=UTC)))
    for number, words in enumerate(SET_UP, 1):
        talk.take(Origin("tester", number, number - 1, talk.last_sequence), [words])
    replies = []
    for number in range(4, 8):
        text = f"reading four foot {('two', 'three', 'four', 'five')[number - 4]}"
        evidence = Evidence((((text, 0.0),),), seconds=2.0, above_noise=6.0, over=20.0)
        origin = Origin("tester", number, number - 1, talk.last_sequence)
        heard = Heard(np.zeros(16_000, np.int16), (text,), evidence, 0.0)
        talk.session.doubting = False
        replies.append(talk.heard(origin, heard, "ear").reply.shown)
    assert ["loud" in reply for reply in replies] == [False, False, True, False]


def test_what_went_on_for_too_long_is_not_believed() -> None:
    utterance = Utterance(ByLength(WHOLE, WHOLE), OnARod())
    for frame in frames(0.5, SHORT, 0.5):
        utterance.feed(frame.astype("<i2").tobytes())
    utterance.too_long = True
    assert utterance.whole() is None
