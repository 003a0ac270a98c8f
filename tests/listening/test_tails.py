"""How long is waited for more words: it depends on whether those so far can be all."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import UTC, datetime
from functools import cache

import numpy as np
import pytest
from fixtures import recordings

from assistant.book.store import Book
from assistant.hearing.endpoint import Endpoint, Timing
from assistant.hearing.port import SAMPLE_RATE, Hypothesis, Samples, Word
from assistant.hearing.sources import blocks
from assistant.talk.listening import listen
from assistant.talk.session import Session
from grammar.automaton import Automaton

SHORT = "scratch that"
SET_UP = ("rod in feet and inches", "baseline four foot two at station zero", "confirm")


@cache
def spoken() -> Samples:
    (recording,) = [r for r in recordings("clean") if r.words == SHORT]
    sound = np.concatenate(list(blocks(recording.path)))
    frames = sound[: len(sound) // 160 * 160].reshape(-1, 160).astype(float)
    level = 10 * np.log10(np.mean(frames**2, axis=1) + 1)
    loud = np.flatnonzero(level > level.max() - 30)
    return sound[loud[0] * 160 : (loud[-1] + 1) * 160]


class ByLength:
    """Hears one text in one piece of speech, another in two, whatever was said."""

    name = "by length"
    calibrated = True

    def __init__(self, one: str, two: str, last: float = 0.0) -> None:
        self.one, self.two = one, two
        self.last = last

    def prepare(self, language: Automaton) -> None: ...

    def hear(self, samples: Samples, language: Automaton) -> tuple[Hypothesis, ...]:
        pieces = 1 if len(samples) < 1.9 * len(spoken()) + 0.8 * SAMPLE_RATE else 2
        text, last = (self.one, self.last) if pieces == 1 else (self.two, 0.0)
        *words, end = text.split()
        return (Hypothesis((*(Word(word, 0.0, 0.0) for word in words), Word(end, 0.0, last)), 100.0),)

    def missing_words(self, language: Automaton) -> list[str]:
        return []


def sound(*parts: float | str) -> Iterator[Samples]:
    """Seconds of near silence, and speech, in blocks."""
    pieces = [spoken() if isinstance(part, str) else np.zeros(int(part * SAMPLE_RATE)) for part in parts]
    whole = np.concatenate(pieces)
    noisy = (whole + np.random.default_rng(1).normal(0, 20, len(whole))).astype(np.int16)
    yield from (noisy[at : at + 800] for at in range(0, len(noisy), 800))


def heard(one: str, two: str, pause: float, last: float = 0.0) -> list[str]:
    session = Session(Book.scratch(lambda: datetime(2026, 5, 4, 7, 30, tzinfo=UTC)), doubting=False)
    session.begin()
    for words in SET_UP:
        session.utterance([words])
    return [
        outcome.heard for outcome in listen(session, ByLength(one, two, last), sound(1.0, SHORT, pause, SHORT, 2.0))
    ]


WHOLE = "reading four foot six at station forty"


@pytest.mark.parametrize(
    ("one", "pause", "pieces"),
    [
        (WHOLE, 0.4, 1),
        (WHOLE, 0.9, 2),
        ("reading four foot six at", 0.9, 1),  # no sentence yet
        ("reading four foot six at", 1.6, 2),
        ("reading four foot six", 0.9, 1),  # a sentence, but of another place than was meant, perhaps
        ("reading four feet at station forty", 0.9, 1),  # the inches may come
        ("check the baseline four feet", 0.9, 1),
        ("check the baseline four foot two", 0.9, 2),
        ("benchmark elevation one hundred point eight", 0.9, 1),
        ("benchmark elevation one hundred point eight three", 0.9, 2),
        ("what do i read", 0.9, 1),  # at another place than the last one, perhaps
        ("what do i read at nine seven", 0.9, 2),
        ("what slope is five tenths in one inch", 0.9, 1),  # "one h", of "one hundred feet"
        ("how much fall in ten feet at one in two", 0.9, 1),  # hundred
        ("how much fall in ten feet at one in eighty", 0.9, 2),
        ("what is one in one", 0.9, 1),  # hundred in inches per foot
        ("what is one inch", 0.9, 1),  # "in", of "one in one hundred"
        ("what is one in one hundred in percent", 0.9, 2),
        ("what is one foot in inches", 0.9, 2),
        ("how far to go", 0.9, 2),
        ("read back the last", 0.9, 1),  # two
        ("read back the last two", 0.9, 2),
    ],
)
def test_half_a_sentence_is_waited_for(one: str, pause: float, pieces: int) -> None:
    found = heard(one, WHOLE, pause)
    assert len(found) == pieces
    assert found[-1] == (WHOLE if pieces == 1 else one)


@pytest.mark.parametrize(("last", "pieces"), [(0.06, 1), (0.15, 1), (0.3, 2)])
def test_a_sentence_that_ends_in_hardly_a_word_is_waited_for(last: float, pieces: int) -> None:
    cut = "reading four foot two at station ten"
    assert heard(cut, WHOLE, 0.9, last) == ([WHOLE] if pieces == 1 else [cut, cut])


def test_however_long_somebody_talks_no_piece_of_it_is_taken() -> None:
    endpoint = Endpoint(Timing(longest=3.0))
    pieces = []
    for block in sound(0.5, *([SHORT, 0.2] * 12), 1.5):
        pieces += list(endpoint.feed(block))
        endpoint.unfinished = True
    assert [len(piece) for piece in pieces] == [0]


def test_words_that_go_on_forget_that_they_were_unfinished() -> None:
    endpoint = Endpoint()
    for block in sound(0.5, SHORT, 0.4):
        assert list(endpoint.feed(block)) == []
    endpoint.unfinished = True
    ends = [list(endpoint.feed(block)) for block in sound(SHORT, 0.9)]
    assert not endpoint.unfinished
    assert sum(map(len, ends)) == 1
