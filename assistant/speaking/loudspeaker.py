"""Speech to the loudspeaker, one sentence at a time."""

from __future__ import annotations

from typing import Any

from assistant.speaking.port import Speech, VoiceError


class Loudspeaker:
    """The default output device. Raises `VoiceError` where there is none."""

    def __init__(self, device: str | None = None) -> None:
        self._device = device
        try:
            import sounddevice
        except OSError as trouble:
            raise VoiceError(f"There is no sound system ({_first_line(trouble)}).") from trouble
        self._sound: Any = sounddevice
        try:
            sounddevice.query_devices(device, "output")
        except (ValueError, sounddevice.PortAudioError) as trouble:
            raise VoiceError("There is no loudspeaker.") from trouble

    def play(self, speech: Speech) -> None:
        """Play to the end; whatever was playing stops first."""
        try:
            self._sound.play(speech.samples, speech.rate, device=self._device, blocking=True)
        except self._sound.PortAudioError as trouble:
            raise VoiceError(f"The loudspeaker does not play ({_first_line(trouble)}).") from trouble

    def stop(self) -> None:
        """Fall silent at once."""
        self._sound.stop()


def _first_line(trouble: BaseException) -> str:
    return (str(trouble) or type(trouble).__name__).splitlines()[0]
