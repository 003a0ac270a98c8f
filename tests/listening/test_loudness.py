"""A loud site is told of, once, in plain words; one lorry is not."""

from __future__ import annotations

import numpy as np
from fixtures import recordings

from assistant.doubting.evidence import above_noise
from assistant.hearing.port import SAMPLE_RATE
from assistant.hearing.sources import blocks
from assistant.talk.loudness import SILENT_FOR, Loudness


def said(levels: list[float]) -> list[str]:
    loudness = Loudness()
    told = [loudness.heard(level) for level in levels]
    return ["" if each is None else each.spoken for each in told]


def test_a_quiet_site_is_not_spoken_of() -> None:
    assert set(said([40.0, 25.0, 18.0, 30.0, 16.0] * 4)) == {""}


def test_one_loud_moment_is_not_spoken_of() -> None:
    assert set(said([30.0, 30.0, 4.0, 30.0, 30.0, 4.0, 30.0])) == {""}


def test_a_loud_site_is_told_once_in_a_while() -> None:
    told = said([8.0] * (SILENT_FOR + 10))
    assert [bool(text) for text in told].index(True) == 2
    assert sum(map(bool, told)) == 2


def test_the_level_is_told_in_plain_words() -> None:
    (much,) = [text for text in said([7.0] * 3) if text]
    (some,) = [text for text in said([11.0] * 3) if text]
    assert "nearly as loud as your voice" in much
    assert "half as loud as your voice" in some


def test_blows_between_words_are_noise_as_a_hiss_is() -> None:
    sound = np.concatenate(list(blocks(recordings("clean")[0].path))).astype(float)
    sound = np.pad(sound, SAMPLE_RATE // 2)
    dice = np.random.default_rng(1)
    time = np.arange(len(sound)) / SAMPLE_RATE
    hiss = dice.normal(0, 1, len(sound))
    blows = hiss * (time % 0.5 < 0.06)
    level = np.sqrt(np.mean(sound[np.abs(sound) > 500] ** 2)) / 10 ** (10 / 20)

    def level_of(noise: np.ndarray) -> float:
        mixed = sound + dice.normal(0, 10, len(sound)) + noise
        return above_noise(np.clip(mixed, -32768, 32767).astype(np.int16))

    alone = level_of(np.zeros(len(sound)))
    assert alone > 30
    for noise in (hiss, blows):
        assert 5 < level_of(noise / noise.std() * level) < 15


def test_no_sound_is_under_any_noise() -> None:
    assert above_noise(np.zeros(0, np.int16)) == 0
