"""Answers aloud, where that is possible; where it is not, a word about it once, and silence until it is."""

from __future__ import annotations

from collections.abc import Callable

from assistant.speaking.loudspeaker import Loudspeaker
from assistant.speaking.port import Speech, Voice, VoiceError
from assistant.speaking.voices import open_voice

Outlet = Callable[[Speech], None]


class Mouth:
    """Speaks to an outlet. Opens the voice and the loudspeaker on the first word, and again after a trouble."""

    def __init__(self, warn: Callable[[str], None], outlet: Outlet | None = None) -> None:
        self._warn = warn
        self._given = outlet
        self._outlet = outlet
        self._voice: Voice | None = None
        self._silent = False

    def say(self, text: str) -> None:
        """Speak `text` to the end, if anything can; tell once when nothing can, and once when it can again."""
        if not text:
            return
        try:
            if self._outlet is None:
                self._outlet = Loudspeaker().play
            if self._voice is None:
                self._voice = open_voice()
            self._outlet(self._voice.say(text))
        except VoiceError as trouble:
            self._outlet = self._given
            if not self._silent:
                self._silent = True
                self._warn(f"{trouble} The answers are only shown, until it works again.")
            return
        if self._silent:
            self._silent = False
            self._warn("The answers are spoken again.")
