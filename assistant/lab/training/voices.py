"""Synthesizers that read sentences aloud: espeak-ng through its library, flite and festival as programs."""

from __future__ import annotations

import ctypes
import random
import re
import subprocess
import tempfile
from collections.abc import Callable, Iterator
from functools import cache
from multiprocessing import Pool
from pathlib import Path

import numpy as np
import soundfile

from assistant.lab.training.lexicon import FLITE_SOUNDS
from assistant.lab.training.packs import Audio, as_int16

Spoken = tuple[Audio, list[str], str, list[tuple[str, float]]]
"""Samples, words, voice, and (sound, end in seconds) where the synthesizer tells."""

ACCENTS = (
    "en-us en-us en-us en-us en-us-nyc en-gb en-gb-x-rp en-gb-scotland en-gb-x-gbclan en-gb-x-gbcwmd en-029".split()
)
ODD = re.compile("whisper|croak|demonic|robosoft|unirobot|storm|half|^mr", re.IGNORECASE)
"""Variants that do not sound like a person."""

FLITE = {"slt": (140, 230), "awb": (90, 160), "rms": (75, 140), "kal": (75, 140), "kal16": (75, 140)}
"""Voices and the range of their mean pitch in hertz."""

RATE, PITCH, RANGE = 1, 3, 4
"""Numbers of espeak's parameters."""


class Espeak:
    """One espeak-ng library; a process can have one only."""

    def __init__(self) -> None:
        import espeakng_loader

        data = Path(espeakng_loader.get_data_path())
        self._library = ctypes.CDLL(espeakng_loader.get_library_path())
        self.rate = self._library.espeak_Initialize(2, 0, str(data.parent).encode(), 0)
        if self.rate <= 0:
            self.rate = self._library.espeak_Initialize(2, 0, str(data).encode(), 0)
        self._parts: list[Audio] = []
        kind = ctypes.CFUNCTYPE(ctypes.c_int, ctypes.POINTER(ctypes.c_short), ctypes.c_int, ctypes.c_void_p)
        self._callback = kind(self._take)
        self._library.espeak_SetSynthCallback(self._callback)
        self.variants = sorted(
            p.name for p in (data / "voices" / "!v").iterdir() if not ODD.search(p.name) and " " not in p.name
        )

    def _take(self, samples: ctypes._Pointer[ctypes.c_short], count: int, events: int | None) -> int:
        if samples and count > 0:
            self._parts.append(np.ctypeslib.as_array(samples, (count,)).copy())
        return 0

    def __call__(self, text: str, dice: random.Random) -> tuple[Audio, str]:
        """Speak in a random accent, variant, speed and pitch."""
        voice = f"{dice.choice(ACCENTS)}+{dice.choice(self.variants)}"
        self._library.espeak_SetVoiceByName(voice.encode())
        for parameter, low, high in ((RATE, 105, 215), (PITCH, 20, 80), (RANGE, 25, 75)):
            self._library.espeak_SetParameter(parameter, dice.randint(low, high), 0)
        self._parts = []
        data = text.encode() + b"\0"
        self._library.espeak_Synth(data, len(data), 0, 1, 0, 1, None, None)
        audio = np.concatenate(self._parts) if self._parts else np.zeros(0, np.int16)
        return as_int16(audio / np.float32(32768), self.rate), voice


@cache
def espeak_library() -> Espeak:
    """The one library of this process."""
    return Espeak()


def phonemes(text: str, accent: str = "en-us") -> str:
    """Give the pronunciation of an accent in the International Phonetic Alphabet.

    It asks the program: asked for several accents in turn, the library breaks off at times.
    """
    command = ["espeak-ng", "-q", "--ipa", "-v", accent, text]
    return " ".join(subprocess.run(command, check=True, capture_output=True, text=True).stdout.split())


def espeak(job: tuple[str, int]) -> Spoken:
    """Speak one text with espeak-ng; the same for the same seed."""
    text, seed = job
    audio, voice = espeak_library()(text, random.Random(seed))
    return audio, text.split(), f"espeak:{voice}", []


def flite(job: tuple[str, int]) -> Spoken:
    """Speak one text with flite, which tells where each sound ends."""
    text, seed = job
    dice = random.Random(seed)
    voice = dice.choice(list(FLITE))
    settings = {
        "duration_stretch": dice.uniform(0.8, 1.35),
        "int_f0_target_mean": dice.uniform(*FLITE[voice]),
        "int_f0_target_stddev": dice.uniform(5, 30),
    }
    with tempfile.NamedTemporaryFile(suffix=".wav") as out:
        set_all = [x for name, value in settings.items() for x in ("--setf", f"{name}={value:.2f}")]
        command = ["flite", "-voice", voice, *set_all, "-psdur", "-t", text, "-o", out.name]
        told = subprocess.run(command, check=True, capture_output=True, text=True).stdout
        audio, rate = soundfile.read(out.name, dtype="float32")
    ends = re.findall(r"([a-z#]+):([\d.]+)", told)
    phones = [(FLITE_SOUNDS.get(sound, sound.upper()), float(end)) for sound, end in ends]
    return as_int16(audio, rate), text.split(), f"flite:{voice}", phones


FESTIVAL = {"kal_diphone": (85, 140), "ked_diphone": (80, 130), "cmu_us_slt_arctic_hts": (0, 0)}
"""Voices and the range of their mean pitch in hertz, where it can be set."""


def festival(texts: list[str], seed: int) -> Iterator[Spoken]:
    """Speak texts with festival, one program for all, since it starts slowly."""
    dice = random.Random(seed)
    with tempfile.TemporaryDirectory() as folder:
        script, voices = [], []
        for i, text in enumerate(texts):
            voice = dice.choice(list(FESTIVAL))
            pitch = dice.uniform(*FESTIVAL[voice])
            voices.append(voice)
            script += [f"(voice_{voice})", f"(Parameter.set 'Duration_Stretch {dice.uniform(0.8, 1.3):.2f})"]
            if pitch:
                spread = dice.uniform(8, 22)
                script.append(
                    f"(set! int_lr_params '((target_f0_mean {pitch:.0f}) (target_f0_std {spread:.0f})"
                    " (model_f0_mean 170) (model_f0_std 34)))"
                )
            script.append(f'(utt.save.wave (utt.synth (Utterance Text "{text}")) "{folder}/{i}.wav")')
        subprocess.run(["festival", "--pipe"], input="\n".join(script), text=True, check=True, capture_output=True)
        for i, text in enumerate(texts):
            path = Path(folder) / f"{i}.wav"
            if path.exists():
                audio, rate = soundfile.read(path, dtype="float32")
                yield as_int16(audio, rate), text.split(), f"festival:{voices[i]}", []


def speak(maker: Callable[[tuple[str, int]], Spoken], texts: list[str], seed: int, workers: int) -> list[Spoken]:
    """Speak all texts in `workers` processes."""
    jobs = [(text, seed * 1_000_000 + i) for i, text in enumerate(texts)]
    with Pool(workers) as pool:
        return [s for s in pool.imap(maker, jobs, 32) if len(s[0]) > 3000]
