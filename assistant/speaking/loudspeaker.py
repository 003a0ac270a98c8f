"""Speech to the loudspeaker, one sentence at a time."""

from __future__ import annotations

import threading
from typing import Any

import soxr

from assistant.speaking.port import Speech, VoiceError

LOST_AFTER = 3.0
"""Seconds over the length of the speech after which the device has not played it and will not."""


class Loudspeaker:
    """An output device, by a part of its name or the default one. Raises `VoiceError` where there is none."""

    def __init__(self, device: str | None = None) -> None:
        self._device = device
        try:
            import sounddevice
        except OSError as trouble:
            raise VoiceError(f"There is no sound system ({_first_line(trouble)}).") from trouble
        self._sound: Any = sounddevice
        try:
            found = sounddevice.query_devices(device, "output")
        except (ValueError, sounddevice.PortAudioError) as trouble:
            raise VoiceError("There is no loudspeaker.") from trouble
        self._usual_rate = int(found["default_samplerate"])
        self._hush = threading.Event()
        self._turn = threading.Lock()

    def play(self, speech: Speech) -> None:
        """Play to the end, or to `stop` from another thread; whatever was playing stops first."""
        before, hush = self._hush, threading.Event()
        self._hush = hush
        before.set()
        with self._turn:
            try:
                self._play(speech, hush)
            except self._sound.PortAudioError as trouble:
                raise VoiceError(f"The loudspeaker does not play ({_first_line(trouble)}).") from trouble

    def stop(self) -> None:
        """Fall silent at once."""
        self._hush.set()

    def _play(self, speech: Speech, hush: threading.Event) -> None:
        channels, rate = self._taken(speech.rate)
        samples = speech.samples
        if rate != speech.rate:
            samples = soxr.resample(samples, speech.rate, rate)
        at, done = 0, threading.Event()

        def fill(out: Any, frames: int, time: Any, status: Any) -> None:
            nonlocal at
            if hush.is_set():
                out.fill(0)
                raise self._sound.CallbackAbort
            part = samples[at : at + frames]
            at += frames
            out[: len(part)] = part[:, None]
            out[len(part) :] = 0
            if len(part) < frames:
                raise self._sound.CallbackStop

        # Only this thread opens and closes the stream: closed from two, it never returns.
        with self._sound.OutputStream(
            samplerate=rate,
            device=self._device,
            channels=channels,
            dtype="int16",
            callback=fill,
            finished_callback=done.set,
        ):
            if not done.wait(speech.seconds + LOST_AFTER):
                raise VoiceError("The loudspeaker is gone.")

    def _taken(self, rate: int) -> tuple[int, int]:
        """Channels and a rate that the device takes: one and that of the speech, if it can be."""
        for channels in (1, 2):
            for one in (rate, self._usual_rate):
                try:
                    self._sound.check_output_settings(self._device, channels, "int16", None, one)
                except self._sound.PortAudioError:
                    continue
                return channels, one
        raise VoiceError("The loudspeaker takes neither one channel nor two.")


def _first_line(trouble: BaseException) -> str:
    return (str(trouble) or type(trouble).__name__).splitlines()[0]
