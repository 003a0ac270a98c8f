"""How well a model folder hears: python -m assistant.hearing.train.score MODEL SPEECH [--most 300]

SPEECH is a folder with manifest.csv. People are those of its development split, none of whom were trained on; the
trade sentences are read by hibari, a synthesizer kept out of training; recorded noise is the part of the manifest
that was left out of training (drills, engines, jackhammers).
"""

from __future__ import annotations

import argparse
import csv
import json
import random
import time
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import numpy as np
import numpy.typing as npt
import soundfile

from assistant.hearing.train.graph import UNKNOWN
from assistant.hearing.train.packs import as_int16
from grammar.phrases import sample

Signal = npt.NDArray[np.float32]
DIGITS = "zero oh one two three four five six seven eight nine".split()
BIG = (
    "ten eleven twelve thirteen fourteen fifteen sixteen seventeen eighteen nineteen twenty thirty forty fifty sixty "
    "seventy eighty ninety hundred thousand and point"
).split()
COMMANDS = "yes no stop go up down left right on off".split()
QUIET = 4800
"""Samples of near silence put before and after a clip, as an endpoint detector would leave."""


@dataclass(frozen=True)
class Clip:
    """A signal and the words in it."""

    audio: Signal
    words: list[str]


@dataclass
class Tally:
    """What went wrong, and the processor time it took."""

    words: int = 0
    wrong: int = 0
    sentences: int = 0
    wrong_sentences: int = 0
    rejected: int = 0
    seconds: float = 0.0
    cpu: float = 0.0

    def line(self, name: str) -> str:
        """Give a row of the table."""
        return (
            f"{name:44} words wrong {100 * self.wrong / max(1, self.words):5.1f} %  sentences right "
            f"{100 - 100 * self.wrong_sentences / max(1, self.sentences):5.1f} %  nothing heard "
            f"{100 * self.rejected / max(1, self.sentences):5.1f} %  n {self.sentences}  "
            f"cpu {self.cpu / max(self.seconds, 1e-9):.3f} s/s"
        )


def errors(wanted: list[str], got: list[str]) -> int:
    """Count the words to change, add or drop (edit distance)."""
    row = list(range(len(got) + 1))
    for i, word in enumerate(wanted, 1):
        corner, row[0] = row[0], i
        for j, other in enumerate(got, 1):
            corner, row[j] = row[j], min(row[j] + 1, row[j - 1] + 1, corner + (word != other))
    return row[-1]


class Listener:
    """Stock Vosk on a model folder under a list of phrases, with `[unk]`."""

    def __init__(self, model: Any, phrases: list[str]) -> None:
        import vosk

        self._recogniser = vosk.KaldiRecognizer(model, 16_000, json.dumps([*phrases, UNKNOWN]))

    def __call__(self, audio: Signal) -> list[str]:
        """Give the words heard, none where any of it was `[unk]`."""
        self._recogniser.AcceptWaveform(np.round(np.clip(audio, -1, 1) * 32767).astype("<i2").tobytes())
        words: list[str] = json.loads(self._recogniser.FinalResult())["text"].split()
        return [] if UNKNOWN in words else words


def score(listener: Listener, clips: list[Clip], noise: Callable[[int], Signal] | None, snr: float) -> Tally:
    """Listen to all clips, with noise so many decibels below the speech."""
    tally = Tally()
    for i, clip in enumerate(clips):
        dice = np.random.default_rng(i)
        audio = np.concatenate([np.zeros(QUIET, np.float32), clip.audio, np.zeros(QUIET, np.float32)])
        audio = audio + 3e-4 * dice.standard_normal(len(audio), dtype=np.float32)
        if noise is not None:
            loud = np.sqrt((clip.audio**2).mean() * 1.5)
            sound = noise(i)
            sound = np.resize(np.roll(sound, dice.integers(len(sound))), len(audio))
            audio = audio + sound / (sound.std() + 1e-9) * loud * 10 ** (-snr / 20)
        began = time.process_time()
        got = listener(audio / max(1.0, float(np.abs(audio).max())))
        tally.cpu += time.process_time() - began
        tally.seconds += len(audio) / 16_000
        wrong = errors(clip.words, got)
        tally.words += len(clip.words)
        tally.wrong += wrong
        tally.sentences += 1
        tally.wrong_sentences += wrong > 0
        tally.rejected += not got
    return tally


def people(speech: Path, allowed: set[str], most: int, only: str = "", but: str = "\0") -> list[Clip]:
    """Read clips of the development split in which every word is allowed."""
    with (speech / "manifest.csv").open(newline="", encoding="utf-8") as lines:
        rows = [
            r
            for r in csv.DictReader(lines)
            if r["split"] == "dev" and only in r["source_set"] and but not in r["source_set"]
        ]
    rows = [r for r in rows if r["text"] and set(r["text"].split()) <= allowed]
    random.Random(1).shuffle(rows)
    read = (soundfile.read(speech / r["path"], dtype="float32")[0] for r in rows[:most])
    return [Clip(audio, row["text"].split()) for audio, row in zip(read, rows, strict=False)]


def strangers(speech: Path, known: set[str], most: int) -> list[Clip]:
    """Read development clips that say something outside the grammar's words."""
    with (speech / "manifest.csv").open(newline="", encoding="utf-8") as lines:
        rows = [r for r in csv.DictReader(lines) if r["split"] == "dev" and r["path"].startswith("other_speech")]
    rows = [r for r in rows if not r["text"] or not set(r["text"].split()) <= known]
    random.Random(2).shuffle(rows)
    return [Clip(soundfile.read(speech / r["path"], dtype="float32")[0][:128_000], []) for r in rows[:most]]


def hibari_says(texts: Iterator[str]) -> list[Clip]:
    """Let hibari read sentences."""
    import hibari

    voice = hibari.Hibari()
    clips = []
    for text in texts:
        made = voice(text, seed=0)
        audio, rate = made if isinstance(made, tuple) else (made, 24_000)
        clips.append(
            Clip(as_int16(np.asarray(audio, np.float32), rate).astype(np.float32) / np.float32(32768), text.split())
        )
    return clips


def runs(words: list[str], count: int, longest: int) -> list[str]:
    """Random runs of words, from which the recogniser learns that any may follow any."""
    dice = random.Random(2)
    return [*words * 20, *(" ".join(dice.choices(words, k=dice.randint(2, longest))) for _ in range(count))]


def main() -> None:
    """Print the table."""
    import vosk

    ask = argparse.ArgumentParser(description=__doc__)
    ask.add_argument("model", type=Path)
    ask.add_argument("speech", type=Path)
    ask.add_argument("--most", type=int, default=300)
    ask.add_argument("--only", default="", help="people or trade; both where left out")
    options = ask.parse_args()
    vosk.SetLogLevel(-1)
    began = time.perf_counter()
    model = vosk.Model(str(options.model))
    size = sum(p.stat().st_size for p in options.model.rglob("*") if p.is_file())
    print(f"load {time.perf_counter() - began:.3f} s, folder {size / 1e6:.1f} MB")
    paths = sorted((options.speech / "noise").glob("us8k_internal_*"))
    recorded = [soundfile.read(p, dtype="float32")[0] for p in paths]

    def site(i: int) -> Signal:
        return recorded[i % len(recorded)]

    def made(i: int) -> Signal:
        dice = np.random.default_rng(i + 10_000)
        steps = dice.standard_normal(160_000, dtype=np.float32)
        return steps if i % 2 else np.convolve(steps, np.exp(-np.arange(64) / 16), "same").astype(np.float32)

    if options.only != "trade":
        digits = Listener(model, runs(DIGITS, 400, 7))
        clips = people(options.speech, set(DIGITS), options.most)
        print(score(digits, clips, None, 0).line("people, digits, clean"), flush=True)
        print(score(digits, clips, made, 10).line("people, digits, 10 dB made noise"), flush=True)
        print(score(digits, clips, site, 10).line("people, digits, 10 dB site noise"), flush=True)
        an4 = people(options.speech, set(DIGITS), options.most, "AN4")
        print(score(digits, an4, None, 0).line("people, AN4 digits"), flush=True)
        numbers = Listener(model, runs(DIGITS + BIG, 2500, 5))
        an4 = people(options.speech, set(DIGITS + BIG), options.most, "AN4")
        print(score(numbers, an4, None, 0).line("people, AN4 numbers"), flush=True)
        commands = Listener(model, COMMANDS)
        clips = people(options.speech, set(COMMANDS), options.most)
        print(score(commands, clips, None, 0).line("people, command words"), flush=True)
    phrases = sorted(set(sample(3000, 1)))
    trade = Listener(model, phrases)
    known = {w for p in phrases for w in p.split()}
    heard = score(trade, strangers(options.speech, known, options.most), None, 0)
    print(
        f"{'people, outside the grammar: accepted':44} {100 - 100 * heard.rejected / heard.sentences:5.1f} %"
        f"  n {heard.sentences}",
        flush=True,
    )
    if options.only != "people":
        clips = hibari_says(sample(min(options.most, 100), 99))
        print(score(trade, clips, None, 0).line("hibari, trade sentences, clean"), flush=True)
        for snr in (20, 10, 5):
            print(score(trade, clips, site, snr).line(f"hibari, trade sentences, {snr} dB site noise"), flush=True)


if __name__ == "__main__":
    main()
