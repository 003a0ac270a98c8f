"""Short sounds that tell what became of an utterance: apart by rhythm, so that an engine or an old ear leaves them so.

One long: listening. Two short: understood. Three short: not understood.
"""

from __future__ import annotations

from enum import Enum

import numpy as np

from assistant.speaking.port import Speech

SHORT, LONG, GAP = 0.05, 0.2, 0.06
"""Seconds. Our own choice."""

PITCHES = (880.0, 1320.0)
"""Hertz, sounded together: one of them comes through where the other is covered. Our own choice."""

LOUDNESS = 0.25
FADE = 0.005
"""Seconds in which a sound comes and goes, so that it does not click."""


class Signal(Enum):
    """What is told, and the seconds of each sound of it."""

    LISTENING = (LONG,)
    UNDERSTOOD = (SHORT, SHORT)
    NOT_UNDERSTOOD = (SHORT, SHORT, SHORT)


def sounded(signal: Signal, rate: int) -> Speech:
    """A signal as samples."""
    gap = np.zeros(round(GAP * rate))
    parts = [part for seconds in signal.value for part in (_tone(seconds, rate), gap)]
    return Speech(np.asarray(np.concatenate(parts) * 32767, np.int16), rate)


def _tone(seconds: float, rate: int) -> np.ndarray:
    t = np.arange(round(seconds * rate)) / rate
    wave = sum(np.sin(2 * np.pi * pitch * t) for pitch in PITCHES) / len(PITCHES)
    fade = np.minimum(1, np.minimum(t, seconds - t) / FADE)
    return np.asarray(LOUDNESS * wave * fade)
