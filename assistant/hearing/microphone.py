"""Sound from a microphone, as one channel at the ear's rate."""

from __future__ import annotations

import queue
import time
from collections.abc import Iterator
from typing import Any

import numpy as np
import soxr

from assistant.hearing.port import SAMPLE_RATE, Samples
from assistant.hearing.sources import SoundError, to_samples

BLOCK_SECONDS = 0.05
FIRST_WITHIN = 6.0
"""Seconds in which a device that was just opened gives its first block; some sound servers need two."""

LOST_AFTER = 2.0
"""Seconds without another block after which the device is gone."""

LOOK_EVERY = 0.5
"""Seconds between looks for a device that was lost."""


class MicrophoneLost(SoundError):
    """The device stopped giving sound. `Microphone.reopen` waits for it."""


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
        self._device = device
        self._waiting: queue.SimpleQueue[np.typing.NDArray[np.float32]] = queue.SimpleQueue()
        self.overflows = 0
        self._find()

    def forget(self) -> None:
        """Drop the sound that waits: what came in while an answer was spoken was our own voice."""
        while not self._waiting.empty():
            self._waiting.get()

    def blocks(self) -> Iterator[Samples]:
        """Blocks as they come, without end. Raises `MicrophoneLost` when the device is gone.

        Take utterances from the start again after that: half a sentence must not be joined to another.
        """
        fit = soxr.ResampleStream(self._rate, SAMPLE_RATE, 1, dtype="float32")
        self.forget()
        try:
            with self._opened():
                patience = FIRST_WITHIN
                while True:
                    block = self._waiting.get(timeout=patience)
                    patience = LOST_AFTER
                    yield to_samples(fit.resample_chunk(block))
        except queue.Empty:
            raise MicrophoneLost(f"The microphone {self.name} is gone; plug it in again.") from None
        except self._sound.PortAudioError as trouble:
            raise MicrophoneLost(f"The microphone {self.name} cannot be used: {trouble}.") from trouble

    def reopen(self, patience: float) -> bool:
        """Look for the device by its name for some seconds; whether it is back."""
        until = time.monotonic() + patience
        while True:
            # PortAudio lists the devices once, when it starts.
            self._sound._terminate()
            self._sound._initialize()
            try:
                self._find()
                with self._opened():
                    self._waiting.get(timeout=FIRST_WITHIN)
                return True
            except (SoundError, queue.Empty, self._sound.PortAudioError):
                if time.monotonic() >= until:
                    return False
                time.sleep(LOOK_EVERY)

    def _find(self) -> None:
        try:
            found = self._sound.query_devices(self._device, "input")
        except (ValueError, self._sound.PortAudioError) as trouble:
            raise SoundError(_absent(self._device)) from trouble
        self.name = str(found["name"])
        self._rate = int(found["default_samplerate"])
        self._channels = self._fewest_channels(int(found["max_input_channels"]))

    def _fewest_channels(self, most: int) -> int:
        """One, where the device can do that; some give only all they have."""
        for channels in (1, 2):
            try:
                self._sound.check_input_settings(self._device, channels, "float32", None, self._rate)
            except (ValueError, self._sound.PortAudioError):
                continue
            return channels
        return most

    def _opened(self) -> Any:
        def copy(data: Any, frames: int, time: Any, status: Any) -> None:
            if status.input_overflow:
                self.overflows += 1
            self._waiting.put(data[:, 0].copy())

        return self._sound.InputStream(
            samplerate=self._rate,
            blocksize=int(self._rate * BLOCK_SECONDS),
            device=self._device,
            channels=self._channels,
            dtype="float32",
            callback=copy,
        )


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
