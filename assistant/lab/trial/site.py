"""The sound of a site: a person's words over noise at a ratio, block by block as a microphone gives it."""

from __future__ import annotations

import csv
from collections.abc import Iterator
from functools import cache
from pathlib import Path

import numpy as np
import numpy.typing as npt

from assistant.hearing.port import SAMPLE_RATE, Samples
from assistant.hearing.sources import blocks as blocks_of
from assistant.lab import noises

Sound = npt.NDArray[np.float32]

CLEAN = 45.0
"""Decibels of speech over the faint hiss that is called clean: digital silence is heard nowhere."""

LEVEL = 1600.0
"""Root mean square of speech, in 16-bit steps: a person at a headset."""

BLOCK = SAMPLE_RATE // 10
BEFORE = 0.5
"""Seconds of noise before each utterance."""
PATIENCE = 2.5
"""Seconds after speaking in which a person expects something to happen."""

RECORDED = {
    "drill": "us8k_internal_drilling",
    "digger": "us8k_internal_engine_idling",
    "breaker": "us8k_internal_jackhammer",
    "wind": "blanket_wind",
    "hammer": "snu_hammer",
    "saw": "esc10_chainsaw",
}
"""Kinds of site noise, by how the shared recordings of them are named. The first three no model of ours has heard."""


MADE = {"gusts": noises.gusts, "motor": noises.motor, "blows": noises.blows}
"""Kinds of noise that are made where there is no recording."""


def kinds(speech: Path | None) -> tuple[str, ...]:
    """The kinds of noise at hand: recorded ones, else self-made ones."""
    return tuple(MADE) if speech is None else tuple(RECORDED)


@cache
def noise(kind: str, speech: Path | None) -> Sound:
    """Some seconds of noise of one kind, with a root mean square of one."""
    if speech is None:
        made = MADE[kind](12 * SAMPLE_RATE, np.random.default_rng(5))
    else:
        with (speech / "manifest.csv").open() as stream:
            names = [row["path"] for row in csv.DictReader(stream) if Path(row["path"]).stem.startswith(RECORDED[kind])]
        parts = [np.concatenate(list(blocks_of(speech / name))).astype(np.float32) for name in names]
        made = np.concatenate([part / (part.std() + 1e-6) for part in parts if part.std() > 0])
    return np.asarray(made / made.std(), np.float32)


class Air:
    """Blocks of noise, with speech in them when somebody speaks. `seconds` is the time that has passed."""

    def __init__(self, background: Sound, ratio: float, seed: int) -> None:
        self._dice = np.random.default_rng(seed)
        self._background = background
        self._gain = LEVEL / 10 ** (ratio / 20) if ratio < CLEAN else 0.0
        self._at = int(self._dice.integers(len(background)))
        self._speech: Sound = np.zeros(0, np.float32)
        self.blocks = 0

    @property
    def seconds(self) -> float:
        """How much sound there was."""
        return self.blocks * BLOCK / SAMPLE_RATE

    def speak(self, sound: Sound) -> None:
        """Let somebody speak now; what was being said before is cut off."""
        before = np.zeros(int(BEFORE * SAMPLE_RATE), np.float32)
        after = np.zeros(int(PATIENCE * SAMPLE_RATE), np.float32)
        self._speech = np.concatenate([before, levelled(sound), after])

    def __iter__(self) -> Iterator[Samples]:
        """Blocks until the person has waited long enough after speaking."""
        while len(self._speech):
            spoken, self._speech = self._speech[:BLOCK], self._speech[BLOCK:]
            if len(spoken) < BLOCK:
                spoken = np.pad(spoken, (0, BLOCK - len(spoken)))
            self.blocks += 1
            around = np.arange(self._at, self._at + BLOCK) % len(self._background)
            self._at += BLOCK
            hiss = self._dice.normal(0, LEVEL / 10 ** (CLEAN / 20), BLOCK)
            yield np.clip(spoken + self._gain * self._background[around] + hiss, -32768, 32767).astype(np.int16)


def levelled(sound: Sound) -> Sound:
    """Speech at the usual level, measured where somebody speaks."""
    frames = sound[: len(sound) // 320 * 320].reshape(-1, 320)
    power = np.mean(frames**2, axis=1)
    spoken = power[power > power.max() * 1e-3]
    return np.asarray(sound * (LEVEL / np.sqrt(np.mean(spoken) + 1e-12)), np.float32)
