"""The neural voice of the hibari package: clearer than a formant voice, all of it inside the package."""

from __future__ import annotations

import numpy as np

from assistant.speaking.port import Speech, VoiceError

SPEED = 0.765
"""Share of its usual speed, for figures that are copied down; see `espeak.SPEED`."""


class NeuralVoice:
    """The one voice that comes in the package. Other names would be downloads, so none is offered."""

    name = "hibari"

    def __init__(self) -> None:
        try:
            import hibari

            self._voice = hibari.Hibari()
        except Exception as trouble:
            raise VoiceError(f"The neural voice cannot be loaded ({trouble}).") from trouble

    def say(self, text: str) -> Speech:
        """Speak."""
        sound = np.asarray(self._voice(text, speed=SPEED, seed=0), np.float32)
        samples = np.clip(np.round(sound * 32767), -32768, 32767).astype(np.int16)
        return Speech(samples, self._voice.sample_rate)
