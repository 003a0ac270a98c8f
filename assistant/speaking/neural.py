"""The neural voice of the hibari package: clearer than a formant voice, all of it inside the package."""

from __future__ import annotations

import re

import numpy as np

from assistant.speaking.port import Speech, VoiceError

SPEED = 0.765
"""Share of its usual speed, for figures that are copied down; see `espeak.SPEED`."""

LONGEST_PIECE = 80
"""Characters spoken at once, if a comma can be found: the memory that the network takes grows with the sound."""


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
        sounds = [np.asarray(self._voice(piece, speed=SPEED, seed=0), np.float32) for piece in _pieces(text)]
        samples = np.clip(np.round(np.concatenate(sounds) * 32767), -32768, 32767).astype(np.int16)
        return Speech(samples, self._voice.sample_rate)


def _pieces(text: str) -> list[str]:
    """The text in pieces that end where a speaker pauses, as long as they may be."""
    pieces = [""]
    for part in re.split(r"(?<=[.,;:?!])\s+", text.strip()):
        if pieces[-1] and len(pieces[-1]) + len(part) > LONGEST_PIECE:
            pieces.append(part)
        else:
            pieces[-1] = f"{pieces[-1]} {part}".strip()
    return pieces
