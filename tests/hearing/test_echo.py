"""Our own voice is known when it comes back; other voices that say the same are not taken for it."""

from __future__ import annotations

import numpy as np
import pytest
from fixtures import aloud

from assistant.book.store import Book
from assistant.hearing.ears import open_ear
from assistant.hearing.echo import ALIKE, alike, is_echo
from assistant.hearing.port import SAMPLE_RATE, Samples
from assistant.speaking.port import Speech
from assistant.speaking.voices import open_voice
from assistant.talk.listening import listen
from assistant.talk.session import Session

TEXT = "Three foot nine inches at station forty. Cut nine and five eighths inches."


def come_back(speech: Speech, room: float, noise: float, seed: int = 1) -> Samples:
    """Speech late by 0.3 s, through a room that dies away in `room` seconds, with `noise` of its own loudness."""
    dice = np.random.default_rng(seed)
    after = int(room * speech.rate)
    answer = dice.normal(0, 1, after) * np.exp(-6.9 * np.arange(after) / after)
    answer *= 0.7 / np.sqrt(np.sum(answer**2))
    answer[0] = 0.6
    sound = np.concatenate([np.zeros(int(0.3 * speech.rate)), np.convolve(speech.samples.astype(float), answer)])
    sound += dice.normal(0, noise * np.std(sound), len(sound))
    return np.clip(sound, -32768, 32767).astype(np.int16)


@pytest.fixture(scope="module")
def speech() -> Speech:
    import soxr

    made = open_voice().say(TEXT)
    return Speech(np.asarray(soxr.resample(made.samples, made.rate, SAMPLE_RATE)), SAMPLE_RATE)


@pytest.mark.parametrize("room", [0.1, 0.3, 0.6])
@pytest.mark.parametrize("noise", [0.03, 0.3, 1.0])
def test_our_own_voice_is_known(speech: Speech, room: float, noise: float) -> None:
    heard = come_back(speech, room, noise)
    likeness, lag = alike(heard, speech.samples)
    assert likeness > ALIKE
    assert abs(lag - 0.3 * SAMPLE_RATE) < 0.02 * SAMPLE_RATE
    assert is_echo(heard, [speech])
    assert not is_echo(heard, [])


@pytest.mark.parametrize("text", [TEXT, "reading three foot nine inches at station forty", "confirm"])
def test_another_voice_with_the_same_words_is_heard(speech: Speech, text: str) -> None:
    words = text.lower().replace(".", "")
    other = aloud(words)
    assert not is_echo(other, [speech])


def test_a_person_who_speaks_longer_than_the_echo_is_heard(speech: Speech) -> None:
    short = Speech(speech.samples[: 2 * SAMPLE_RATE], SAMPLE_RATE)
    theirs = aloud(TEXT.lower())
    assert is_echo(come_back(short, 0.3, 0.1), [short])
    assert not is_echo(np.concatenate([come_back(short, 0.3, 0.1), theirs])[: 10 * SAMPLE_RATE], [short])


def test_silence_is_no_echo(speech: Speech) -> None:
    assert not is_echo(np.zeros(SAMPLE_RATE, np.int16), [speech])


def test_what_is_our_own_has_no_outcome(speech: Speech) -> None:
    sound = np.concatenate([come_back(speech, 0.3, 0.01), np.zeros(2 * SAMPLE_RATE, np.int16)])
    ear, asked = open_ear(None, None), []

    def own(heard: Samples) -> bool:
        asked.append(len(heard))
        return is_echo(heard, [speech])

    session = Session(Book.scratch(), doubting=False)
    assert len(list(listen(session, ear, iter([sound])))) >= 1
    assert list(listen(session, ear, iter([sound]), own=own)) == []
    assert asked
