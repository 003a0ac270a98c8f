"""The voices of the simulated person: synthesizers, and people's digits spliced into a synthetic sentence."""

from __future__ import annotations

import csv
import io
import random
import shutil
import subprocess
from collections import defaultdict
from collections.abc import Callable
from functools import cache
from itertools import groupby
from pathlib import Path

import numpy as np
import soundfile
import soxr

from assistant.hearing.port import SAMPLE_RATE
from assistant.hearing.sources import blocks
from assistant.lab.trial.site import Sound
from assistant.speaking.espeak import EspeakLibrary

Voice = Callable[[str], Sound]

DIGITS = "zero one two three four five six seven eight nine".split()
ESPEAK = (
    "en-us+m1 en-us+m3 en-us+m7 en-us+f2 en-us+f4 en-gb+m2 en-gb+f1 en-gb-scotland+m4 en-us+steph en-us+Andy".split()
)
FLITE = ("slt", "rms", "awb", "kal16")
GAP = 0.02
"""Seconds between spliced pieces."""

SOFT = 0.08
"""Seconds that a soft consonant lasts, as the first of "three", the last of "six": without it, it is another word."""


CUT_CLOSE = "Free Spoken Digit Dataset"
"""Recordings cut where they grow faint, and of 8,000 samples a second: of 18 times "six" by the one speaker of the
development split, 13 are left with hardly more than a vowel. Nobody on a site says that."""


def families(speech: Path | None) -> tuple[str, ...]:
    """The kinds of voice that can speak here. The ear was made with other sentences of the last two, none of hibari."""
    found = ["hibari"]
    if speech is not None:
        found.append("people's digits")
    if shutil.which("espeak-ng"):
        found.append("espeak-ng")
    if shutil.which("flite"):
        found.append("flite")
    return tuple(found)


def voice(family: str, seed: int, speech: Path | None) -> Voice:
    """One speaker of a family, the same for the same seed."""
    dice = random.Random(seed)
    match family:
        case "hibari":
            return _hibari(dice.uniform(0.85, 1.1), dice.uniform(0.92, 1.06))
        case "people's digits":
            assert speech is not None
            return _spliced(_hibari(dice.uniform(0.85, 1.0), dice.uniform(0.92, 1.06)), speech, dice)
        case "espeak-ng":
            speed, pitch = dice.randint(120, 170), dice.randint(35, 65)
            command = ["espeak-ng", "-v", dice.choice(ESPEAK), "-s", str(speed), "-p", str(pitch), "--stdout"]
            return lambda text: _read(subprocess.run([*command, text], capture_output=True, check=True).stdout)
        case "flite":
            command = [
                "flite",
                "-voice",
                dice.choice(FLITE),
                "--setf",
                f"duration_stretch={dice.uniform(0.9, 1.25):.2f}",
            ]
            return lambda text: _read(
                subprocess.run([*command, "-t", text, "-o", "/dev/stdout"], capture_output=True, check=True).stdout
            )
        case "espeak-ng library":
            library = EspeakLibrary()
            return lambda text: _spoken(library, text)
    raise ValueError(f"there is no voice {family!r}")


MOST_VARIED = 0.05
"""By how much a person says the same faster or slower, and higher or lower, another time. Our own choice."""


def never_twice_the_same(sound: Sound, dice: random.Random) -> Sound:
    """The same words as said once more: a synthesizer alone would repeat itself to the sample."""
    return _heard_at(sound, SAMPLE_RATE * dice.uniform(1 - MOST_VARIED, 1 + MOST_VARIED))


@cache
def _network() -> object:
    import hibari

    return hibari.Hibari()


def _hibari(speed: float, pitch: float) -> Voice:
    """The neural voice; played faster or slower it is another speaker."""

    def say(text: str) -> Sound:
        network = _network()
        sound = np.asarray(network(text, speed=speed / pitch, seed=0), np.float32)  # type: ignore[operator]
        return _heard_at(sound, network.sample_rate * pitch)  # type: ignore[attr-defined]

    return say


def _spliced(carrier: Voice, speech: Path, dice: random.Random) -> Voice:
    clips = _digits(speech)

    def digit(word: str) -> Sound:
        speakers = sorted(speaker for speaker, said in clips.items() if word in said)
        return _trimmed(_clip(dice.choice(clips[dice.choice(speakers)][word])))

    def say(text: str) -> Sound:
        gap = np.zeros(int(GAP * SAMPLE_RATE), np.float32)
        parts: list[Sound] = []
        for is_digit, run in groupby(text.split(), key=DIGITS.__contains__):
            words = list(run)
            said = [digit(word) for word in words] if is_digit else [_trimmed(carrier(" ".join(words)))]
            for part in said:
                parts += [part / (np.sqrt(np.mean(part**2)) + 1e-9) * np.float32(0.1), gap]
        return np.concatenate(parts)

    return say


@cache
def _digits(speech: Path) -> dict[str, dict[str, list[Path]]]:
    """Recordings of people of the development split saying one digit, by speaker and word; none that were cut."""
    found: dict[str, dict[str, list[Path]]] = defaultdict(lambda: defaultdict(list))
    with (speech / "manifest.csv").open() as stream:
        for row in csv.DictReader(stream):
            if row["split"] == "dev" and row["text"] in DIGITS and row["source_set"] != CUT_CLOSE:
                path = speech / row["path"]
                if not begins_or_ends_loud(_clip(path)):
                    found[row["speaker"]][row["text"]].append(path)
    return {speaker: dict(said) for speaker, said in found.items()}


@cache
def _clip(path: Path) -> Sound:
    return np.concatenate(list(blocks(path))).astype(np.float32) / np.float32(32768)


SPEECH_BAND = 300, 4000
"""Hertz between which a word is told from the hum and rumble of a recording."""

EDGE = 960
"""Samples at each end of a recording in which the word has not begun, or is over."""

FAINT = 10.0
"""Decibels by which the ends are fainter than the loudest tenth of a second. Of 253 recordings of the development
split four end or begin within 1 dB of it, in the midst of the word or before it; the next has 11."""


def begins_or_ends_loud(sound: Sound) -> bool:
    """Whether a recording was cut in the midst of its word, so that it no longer holds what it is said to."""
    low, high = (int(hertz * EDGE / 3 / SAMPLE_RATE) for hertz in SPEECH_BAND)
    frames = sound[: len(sound) // (EDGE // 3) * (EDGE // 3)].reshape(-1, EDGE // 3)
    power = np.sum(np.abs(np.fft.rfft(frames * np.hanning(EDGE // 3))[:, low : high + 1]) ** 2, axis=1)
    loudest = np.sort(power)[-5:].mean()
    return bool(max(np.median(power[:3]), np.median(power[-3:])) > loudest / 10 ** (FAINT / 10))


def _trimmed(sound: Sound) -> Sound:
    """From the first to the last sound within 30 dB of the loudest, and as much around it as a soft consonant lasts."""
    frames = sound[: len(sound) // 160 * 160].reshape(-1, 160)
    power = np.mean(frames**2, axis=1)
    loud = np.flatnonzero(power > power.max() * 1e-3)
    soft = int(SOFT * SAMPLE_RATE)
    return sound[max(0, loud[0] * 160 - soft) : (loud[-1] + 1) * 160 + soft]


def _spoken(library: EspeakLibrary, text: str) -> Sound:
    speech = library.say(text)
    return _heard_at(speech.samples.astype(np.float32) / np.float32(32768), speech.rate)


def _read(data: bytes) -> Sound:
    sound, rate = soundfile.read(io.BytesIO(data), dtype="float32")
    return _heard_at(sound, rate)


def _heard_at(sound: Sound, rate: float) -> Sound:
    return np.asarray(soxr.resample(np.asarray(sound, np.float32), rate, SAMPLE_RATE), np.float32)
