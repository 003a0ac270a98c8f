"""Which voice speaks."""

from __future__ import annotations

from collections.abc import Callable

from assistant.speaking.espeak import EspeakLibrary, EspeakProgram
from assistant.speaking.neural import NeuralVoice
from assistant.speaking.port import Voice, VoiceError

VOICES: dict[str, Callable[[], Voice]] = {
    "neural": NeuralVoice,
    "espeak": EspeakProgram,
    "espeak-library": EspeakLibrary,
}
"""The voices by name, the clearest first."""


def open_voice(name: str | None = None) -> Voice:
    """Open a voice by name, or the first that works. Raises `VoiceError` with what each lacked."""
    troubles = []
    for voice in [VOICES[name]] if name else VOICES.values():
        try:
            return voice()
        except VoiceError as trouble:
            troubles.append(str(trouble))
    raise VoiceError(" ".join(troubles))
