"""Whether an utterance is our own voice, come back from the loudspeaker by the air or late by radio."""

from __future__ import annotations

from collections.abc import Iterable

import numpy as np
import soxr

from assistant.hearing.port import SAMPLE_RATE, Samples
from assistant.speaking.port import Speech

ALIKE = 30.0
"""By how much the highest peak of the likeness stands above its usual height where one sound holds the other. Our own
voice through rooms of 0.1 to 0.6 s, in as much noise as voice or less, gave 54 to 310, the last two fifths of a
sentence 21 to 170; six other voices with 96 sentences, the very same among them, 21 at the most (2026-11-28)."""

LEAST_SHARE = 0.5
"""Of an utterance that must be our own voice: where somebody spoke over it, it is heard."""


def is_echo(heard: Samples, said: Iterable[Speech]) -> bool:
    """Whether most of what was heard is one of the things that we said."""
    return any(_holds(heard, _at_our_rate(speech)) for speech in said)


def _holds(heard: Samples, said: Samples) -> bool:
    likeness, lag = alike(heard, said)
    overlap = min(len(heard), lag + len(said)) - max(0, lag)
    return likeness >= ALIKE and overlap >= LEAST_SHARE * len(heard)


def alike(heard: Samples, said: Samples) -> tuple[float, int]:
    """How far the highest peak of the generalised cross-correlation with phase transform stands above its root mean
    square, and where: the sample of `heard` at which `said` begins.

    Knapp and Carter, IEEE Transactions on Acoustics, Speech and Signal Processing 24 (1976), from memory: only the
    phases are compared, so that rooms, loudspeakers and levels matter little.
    """
    size = 1 << (len(heard) + len(said)).bit_length()
    cross = np.fft.rfft(heard, size) * np.conj(np.fft.rfft(said, size))
    peaks = np.abs(np.fft.irfft(cross / np.maximum(np.abs(cross), 1e-9), size))
    at = int(np.argmax(peaks))
    return float(peaks[at] / max(1e-9, np.sqrt(np.mean(peaks**2)))), at if at < len(heard) else at - size


def _at_our_rate(speech: Speech) -> Samples:
    if speech.rate == SAMPLE_RATE:
        return speech.samples
    return np.asarray(soxr.resample(speech.samples, speech.rate, SAMPLE_RATE))
