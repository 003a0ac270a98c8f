"""What the ears are measured on: people's recordings, an unseen synthesizer, noise. The same ones at every call."""

from __future__ import annotations

import csv
import random
from collections.abc import Callable, Iterable
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import numpy as np
import numpy.typing as npt
import soundfile
import soxr

from assistant.hearing.port import SAMPLE_RATE, Samples

Signal = npt.NDArray[np.float32]

QUIET = 0.3
"""Seconds of faint noise before and after a clip, as an endpoint detector leaves them."""

LONGEST = 8.0
"""Seconds that are taken of other people's talk."""


@dataclass(frozen=True)
class Clip:
    """A signal, and the words in it."""

    audio: Signal
    words: tuple[str, ...]


def people(speech: Path, allowed: frozenset[str], most: int, only: str = "") -> list[Clip]:
    """Clips of the development split of which every word is allowed, of sources whose name holds `only`."""
    rows = [r for r in _rows(speech) if r["split"] == "dev" and only in r["source_set"] and r["text"]]
    rows = [r for r in rows if set(r["text"].split()) <= allowed]
    random.Random(1).shuffle(rows)
    return [Clip(_read(speech / r["path"]), tuple(r["text"].split())) for r in rows[:most]]


def strangers(speech: Path, known: frozenset[str], most: int) -> list[Clip]:
    """Clips of the development split that say something outside the words of a language."""
    rows = [r for r in _rows(speech) if r["split"] == "dev" and r["path"].startswith("other_speech")]
    rows = [r for r in rows if not r["text"] or not set(r["text"].split()) <= known]
    random.Random(2).shuffle(rows)
    return [Clip(_read(speech / r["path"])[: int(LONGEST * SAMPLE_RATE)], ()) for r in rows[:most]]


def site_noises(speech: Path) -> list[Signal]:
    """Recorded drills, engines and jackhammers, none of which any training heard."""
    return [_read(path) for path in sorted((speech / "noise").glob("us8k_internal_*"))]


def made_noise(number: int) -> Signal:
    """Ten seconds of noise made here: even ones fall with frequency, odd ones do not."""
    steps = np.random.default_rng(number + 10_000).standard_normal(10 * SAMPLE_RATE).astype(np.float32)
    return steps if number % 2 else np.convolve(steps, np.exp(-np.arange(64) / 16), "same").astype(np.float32)


def read_aloud(texts: Iterable[str]) -> list[Clip]:
    """Sentences read by hibari, a synthesizer that no training heard."""
    import hibari

    voice: Any = hibari.Hibari()
    clips = []
    for text in texts:
        made = voice(text, seed=0)
        audio, rate = made if isinstance(made, tuple) else (made, 24_000)
        sound = soxr.resample(np.asarray(audio, np.float32), rate, SAMPLE_RATE)
        clips.append(
            Clip((sound * (0.9 / max(float(np.abs(sound).max()), 1e-3))).astype(np.float32), tuple(text.split()))
        )
    return clips


def heard_in(clip: Clip, noise: Callable[[int], Signal] | None, ratio: float, number: int) -> Samples:
    """The clip between two quiet stretches, with noise `ratio` decibels below its speech."""
    dice = np.random.default_rng(number)
    edge = np.zeros(int(QUIET * SAMPLE_RATE), np.float32)
    audio = np.concatenate([edge, clip.audio, edge])
    audio = audio + 3e-4 * dice.standard_normal(len(audio)).astype(np.float32)
    if noise is not None:
        loud = np.sqrt((clip.audio**2).mean() * 1.5)
        sound = noise(number)
        sound = np.resize(np.roll(sound, dice.integers(len(sound))), len(audio))
        audio = audio + sound / (sound.std() + 1e-9) * loud * 10 ** (-ratio / 20)
    loudest = max(1.0, float(np.abs(audio).max()))
    samples: Samples = np.round(audio * (32767 / loudest)).astype(np.int16)
    return samples


def _rows(speech: Path) -> list[dict[str, str]]:
    with (speech / "manifest.csv").open(newline="", encoding="utf-8") as lines:
        return list(csv.DictReader(lines))


def _read(path: Path) -> Signal:
    audio, rate = soundfile.read(path, dtype="float32")
    fitting: Signal = audio if rate == SAMPLE_RATE else soxr.resample(audio, rate, SAMPLE_RATE)
    return fitting
