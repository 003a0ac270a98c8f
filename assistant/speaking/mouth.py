"""Answers aloud, where that is possible; where it is not, a word about it once, and silence."""

from __future__ import annotations

from collections.abc import Callable

from assistant.speaking.loudspeaker import Loudspeaker
from assistant.speaking.port import Speech, Voice, VoiceError
from assistant.speaking.voices import open_voice

Outlet = Callable[[Speech], None]


class Mouth:
    """Speaks to an outlet. Opens the voice and the loudspeaker on the first word."""

    def __init__(self, warn: Callable[[str], None], outlet: Outlet | None = None) -> None:
        self._warn = warn
        self._outlet = outlet
        self._voice: Voice | None = None
        self._mute = False

    def say(self, text: str) -> None:
        """Speak `text` to the end, if anything can."""
        if self._mute or not text:
            return
        try:
            if self._outlet is None:
                self._outlet = Loudspeaker().play
            if self._voice is None:
                self._voice = open_voice()
            self._outlet(self._voice.say(text))
        except VoiceError as trouble:
            self._mute = True
            self._warn(f"{trouble} The answers are only shown.")
