"""`rodside --key` on a virtual card: only what follows a press is heard, in the noise of an engine too."""

from __future__ import annotations

import os
import time
from collections.abc import Iterator
from pathlib import Path

import numpy as np
import pytest
import soundfile
from fixtures import recordings
from hearing.card import Card
from listening.talking import Talk

from assistant.book.store import Book
from assistant.hearing.ears import open_ear
from assistant.hearing.port import SAMPLE_RATE
from assistant.talk.listening import LEAST, listen, listen_once
from assistant.talk.session import Session

WORDS = "what should i read at station sixty"


@pytest.mark.slow
def test_only_what_follows_a_press_is_heard(card: Card, tmp_path: Path) -> None:
    wav = tmp_path / "said.wav"
    soundfile.write(wav, *soundfile.read(next(r.path for r in recordings("clean") if r.words == WORDS)))
    talk = Talk(card, tmp_path / "day.rodside", "--no-audio", "--key")
    try:
        assert talk.ready.wait(60)
        time.sleep(1)
        assert card.run("paplay", "--device=site", str(wav)).returncode == 0
        time.sleep(3)
        assert talk.heard == []
        os.write(talk.theirs, b" ")
        time.sleep(1)
        assert card.run("paplay", "--device=site", str(wav)).returncode == 0
        until = time.monotonic() + 15
        while not talk.heard and time.monotonic() < until:
            time.sleep(0.05)
        assert talk.heard == [WORDS]
        os.write(talk.theirs, b"\x03")
        talk.program.wait(10)
    finally:
        talk.end()


def sound(loud: float) -> list[np.ndarray]:
    """The words in an even hum, as loud as given, in blocks."""
    said, rate = soundfile.read(next(r.path for r in recordings("clean") if r.words == WORDS), dtype="float32")
    assert rate == SAMPLE_RATE
    said = said / np.sqrt(np.mean(said**2))
    hum = np.random.default_rng(2).normal(0, 1, len(said) + SAMPLE_RATE)
    hum[SAMPLE_RATE // 2 : SAMPLE_RATE // 2 + len(said)] += said / loud
    return np.array_split((hum * 2000 * loud).astype(np.int16), 40)


def test_where_no_pause_is_found_the_second_press_ends_it() -> None:
    session = Session(Book.scratch(), doubting=False)
    outcome = listen_once(session, open_ear(None, None), iter(sound(0.25)))
    assert outcome is not None and outcome.heard == WORDS


def test_a_press_and_another_at_once_are_nothing_said() -> None:
    short = np.zeros(int(LEAST * SAMPLE_RATE) - 100, np.int16)
    assert listen_once(Session(Book.scratch()), open_ear(None, None), iter([short])) is None


def test_who_speaks_meanwhile_is_told_when_somebody_begins() -> None:
    """With a headset the answer falls silent at once: before the utterance has ended, and once for each."""
    told: list[str] = []
    ear = open_ear(None, None)

    def blocks() -> Iterator[np.ndarray]:
        for _ in range(2):
            yield from sound(0.03)
            told.append("sound over")

    session = Session(Book.scratch(), doubting=False)
    for outcome in listen(session, ear, blocks(), lambda: told.append("began")):
        told.append(outcome.heard)
    assert told == ["began", WORDS, "sound over", "began", WORDS, "sound over"]


def test_a_key_that_nobody_presses_again_closes_and_nothing_is_believed() -> None:
    """A voice without a pause: what is cut at ten seconds may be cut in a number."""
    session, given = Session(Book.scratch(), doubting=False), []

    def blocks() -> Iterator[np.ndarray]:
        while True:
            for block in sound(0.03):
                if np.std(block) > 70:
                    given.append(len(block))
                    yield block

    outcome = listen_once(session, open_ear(None, None), blocks())
    assert outcome is not None
    assert (outcome.heard, outcome.reply.shown) == ("", "I did not catch that. Say it again.")
    assert sum(given) < 11 * SAMPLE_RATE
