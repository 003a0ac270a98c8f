"""Sound from a microphone, as one channel at the ear's rate."""

from __future__ import annotations

import queue
from collections.abc import Iterator
from typing import Any

import numpy as np
import soxr

from assistant.hearing.port import SAMPLE_RATE, Samples
from assistant.hearing.sources import SoundError, to_samples

BLOCK_SECONDS = 0.05
LOST_AFTER = 2.0
"""Seconds without a block after which the device is gone."""


class Microphone:
    """An input device, by a part of its name or the default one. Raises `SoundError` where there is none.

    The device's thread only copies and queues; `overflows` counts the blocks that it lost.
    """

    def __init__(self, device: str | None = None) -> None:
        try:
            import sounddevice
        except OSError as trouble:
            raise SoundError(f"There is no sound system here ({trouble}); type with --typed.") from trouble
        self._sound: Any = sounddevice
        try:
            found = sounddevice.query_devices(device, "input")
        except (ValueError, sounddevice.PortAudioError) as trouble:
            raise SoundError(_absent(device)) from trouble
        self.name = str(found["name"])
        self._device = device
        self._rate = int(found["default_samplerate"])
        self._waiting: queue.SimpleQueue[np.typing.NDArray[np.float32]] = queue.SimpleQueue()
        self.overflows = 0

    def forget(self) -> None:
        """Drop the sound that waits: what came in while an answer was spoken was our own voice."""
        while not self._waiting.empty():
            self._waiting.get()

    def blocks(self) -> Iterator[Samples]:
        """Blocks as they come, without end. Raises `SoundError` when the device is lost."""

        def copy(data: Any, frames: int, time: Any, status: Any) -> None:
            if status.input_overflow:
                self.overflows += 1
            self._waiting.put(data[:, 0].copy())

        fit = soxr.ResampleStream(self._rate, SAMPLE_RATE, 1, dtype="float32")
        try:
            with self._sound.InputStream(
                samplerate=self._rate,
                blocksize=int(self._rate * BLOCK_SECONDS),
                device=self._device,
                channels=1,
                dtype="float32",
                callback=copy,
            ):
                while True:
                    block = self._waiting.get(timeout=LOST_AFTER)
                    yield to_samples(fit.resample_chunk(block))
        except queue.Empty:
            raise SoundError(f"The microphone {self.name} is gone; plug it in again.") from None
        except self._sound.PortAudioError as trouble:
            raise SoundError(f"The microphone {self.name} cannot be used: {trouble}.") from trouble


def names() -> list[str]:
    """The input devices here; none where there is no sound system."""
    try:
        import sounddevice

        return [str(d["name"]) for d in sounddevice.query_devices() if d["max_input_channels"] > 0]
    except OSError:
        return []


def _absent(device: str | None) -> str:
    if device is None:
        return "There is no microphone here; plug one in, or type with --typed."
    here = ", ".join(names()) or "none"
    return f"There is no microphone {device!r}; here are: {here}."
