"""What the voicing network sees of a frame: the loudness of twenty bands."""

from __future__ import annotations

import numpy as np
import numpy.typing as npt

RATE = 16_000
FRAME = RATE // 50
"""Samples in a frame of 20 ms."""

Array = npt.NDArray[np.float32]

_EDGES = np.array([2, 4, 6, 8, 10, 12, 14, 17, 20, 24, 28, 33, 39, 46, 54, 64, 76, 90, 108, 130, 160])
"""Borders of the bands in steps of 50 Hz: narrow where vowels are and wider above, as hearing is."""

BANDS = len(_EDGES) - 1

_FAINTEST = 1e-5
"""Power added to each band, so that digital silence is like a faint hiss."""

_WINDOW = np.hanning(FRAME).astype(np.float32)


def bands(frames: Array) -> Array:
    """Common logarithms of the power in each band, (..., BANDS), of frames (..., FRAME) of samples in -1..1."""
    steady = frames - frames.mean(axis=-1, keepdims=True)
    power = np.abs(np.fft.rfft(steady * _WINDOW)) ** 2
    sums = np.add.reduceat(power[..., : _EDGES[-1]], _EDGES[:-1], axis=-1)
    return np.asarray(np.log10(sums + _FAINTEST), np.float32)
