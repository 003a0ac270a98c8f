"""Makes every sound in demo/ and sentences/ again: `python audio_fixtures/make.py`. Those in people/ are of people.

Needs espeak-ng and flite on the path, and the packages of the project. The same seeds give the same sounds for the
same versions of the voices.
"""

from __future__ import annotations

import csv
import io
import subprocess
import zlib
from collections.abc import Callable
from pathlib import Path

import numpy as np
import numpy.typing as npt
import soundfile
import soxr
import yaml

HERE = Path(__file__).parent
RATE = 16_000
Sound = npt.NDArray[np.float64]


def espeak(voice: str, speed: int, pitch: int) -> Callable[[str], Sound]:
    command = ["espeak-ng", "-v", voice, "-s", str(speed), "-p", str(pitch), "--stdout"]
    return lambda text: _read(subprocess.run([*command, text], capture_output=True, check=True).stdout)


def flite(voice: str) -> Callable[[str], Sound]:
    def say(text: str) -> Sound:
        command = ["flite", "-voice", voice, "-t", text, "-o", "/dev/stdout"]
        return _read(subprocess.run(command, capture_output=True, check=True).stdout)

    return say


def neural(speed: float) -> Callable[[str], Sound]:
    import hibari

    voice = hibari.Hibari()
    return lambda text: _at_rate(np.asarray(voice(text, speed=speed, seed=0), float), hibari.SAMPLE_RATE)


def _read(data: bytes) -> Sound:
    sound, rate = soundfile.read(io.BytesIO(data))
    return _at_rate(sound, rate)


def _at_rate(sound: Sound, rate: int) -> Sound:
    return np.asarray(soxr.resample(sound, rate, RATE), float)


def wind(length: int, dice: np.random.Generator) -> Sound:
    """Low rumble that comes and goes."""
    spectrum = np.fft.rfft(dice.normal(size=length))
    frequency = np.fft.rfftfreq(length, 1 / RATE)
    rumble = np.fft.irfft(spectrum / np.maximum(frequency, 20.0) ** 1.2, length)
    gusts = 1 + 0.7 * np.sin(2 * np.pi * 0.3 * np.arange(length) / RATE + dice.uniform(0, 6))
    return np.asarray(rumble * gusts)


def engine(length: int, dice: np.random.Generator) -> Sound:
    """A diesel idling: harmonics of its firing rate over hiss."""
    time = np.arange(length) / RATE
    firing = dice.uniform(25, 40)
    tones = sum(np.sin(2 * np.pi * firing * k * time + dice.uniform(0, 6)) / k**0.8 for k in range(1, 60))
    return np.asarray(tones + 0.6 * dice.normal(size=length))


def hammer(length: int, dice: np.random.Generator) -> Sound:
    """Blows on steel, two or three a second, over a faint hiss."""
    sound = 0.05 * dice.normal(size=length)
    at = 0.0
    while at < length / RATE:
        start = int(at * RATE)
        ring = np.arange(min(length - start, RATE // 5)) / RATE
        sound[start : start + len(ring)] += np.exp(-30 * ring) * np.sin(2 * np.pi * dice.uniform(900, 2600) * ring)
        at += dice.uniform(0.3, 0.5)
    return np.asarray(sound)


NOISES = {"wind": wind, "engine": engine, "hammer": hammer}


def mixed(speech: Sound, noise: str, decibels: float, seed: int) -> Sound:
    """Speech with half a second around it, over a noise at a ratio of their mean powers."""
    dice = np.random.default_rng(seed)
    quiet = np.zeros(RATE // 2)
    sound = np.concatenate([quiet, 0.25 * speech / np.max(np.abs(speech)), quiet])
    around = NOISES[noise](len(sound), dice)
    ratio = np.mean(speech**2) * (0.25 / np.max(np.abs(speech))) ** 2 / np.mean(around**2)
    return np.asarray(np.clip(sound + around * np.sqrt(ratio / 10 ** (decibels / 10)), -1, 1))


VOICES: dict[str, Callable[[str], Sound]] = {
    "neural": neural(0.9),
    "espeak us": espeak("en-us", 140, 50),
    "espeak gb": espeak("en-gb+f3", 140, 60),
    "flite slt": flite("slt"),
    "flite rms": flite("rms"),
}
RATIOS = {"clean": 40.0, "20": 20.0, "10": 10.0}


def main() -> None:
    """Write demo/, sentences/ and manifest.csv."""
    rows = []
    for number, words in enumerate(yaml.safe_load((HERE / "demo.yaml").read_text()), 1):
        rows.append(_write(f"demo/{number:02}.ogg", words, "neural", "engine", "25", 25.0))
    voices, noises = list(VOICES), list(NOISES)
    for number, words in enumerate(yaml.safe_load((HERE / "sentences.yaml").read_text())):
        for ratio, decibels in RATIOS.items():
            name = f"sentences/{number:02}-{ratio}.ogg"
            voice, noise = voices[number % len(voices)], noises[number // 2 % len(noises)]
            rows.append(_write(name, words, voice, noise, ratio, decibels))
    with (HERE / "manifest.csv").open("w", newline="") as stream:
        table = csv.writer(stream)
        table.writerow(("file", "words", "voice", "noise", "ratio_db", "seed"))
        table.writerows(rows)


def _write(name: str, words: str, voice: str, noise: str, ratio: str, decibels: float) -> list[str]:
    seed = zlib.crc32(name.encode())
    path = HERE / name
    path.parent.mkdir(exist_ok=True)
    sound = mixed(VOICES[voice](words), noise, decibels, seed)
    soundfile.write(path, sound, RATE, format="OGG", subtype="OPUS")
    return [name, words, voice, noise, ratio, str(seed)]


if __name__ == "__main__":
    main()
