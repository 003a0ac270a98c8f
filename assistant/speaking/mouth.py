"""Answers aloud, where that is possible; where it is not, a word about it once, and silence until it is."""

from __future__ import annotations

import time
from collections import deque
from collections.abc import Callable
from concurrent.futures import ThreadPoolExecutor

from assistant.speaking.loudspeaker import Loudspeaker
from assistant.speaking.port import Speech, Voice, VoiceError
from assistant.speaking.signals import Signal, sounded
from assistant.speaking.voices import open_voice

Outlet = Callable[[Speech], None]

SIGNAL_RATE = 16_000

LATELY = 15.0
"""Seconds after which what was said does not come back any more: the longest utterance, and a slow loudspeaker."""


class Mute:
    """Says nothing."""

    def say(self, text: str, signal: Signal | None = None) -> None:
        """Say nothing."""

    def signal(self, signal: Signal) -> None:
        """Give no signal."""

    def hush(self) -> None:
        """Stay silent."""

    def lately(self) -> list[Speech]:
        """Nothing was said."""
        return []


class Mouth:
    """Speaks to an outlet. Opens the voice and the loudspeaker on the first word, and again after a trouble."""

    def __init__(self, warn: Callable[[str], None], outlet: Outlet | None = None) -> None:
        self._warn = warn
        self._given = outlet
        self._outlet = outlet
        self._loudspeaker: Loudspeaker | None = None
        self._voice: Voice | None = None
        self._silent = False
        self._hushed = 0
        self._said: deque[tuple[float, Speech]] = deque(maxlen=8)
        self._voicing = ThreadPoolExecutor(1)

    def say(self, text: str, signal: Signal | None = None) -> None:
        """Speak `text` to the end, if anything can; tell once when nothing can, and when it can again.

        A signal sounds at once, while the voice is still at work. Another thread may `hush` both.
        """
        if not text:
            return
        before, speech = self._hushed, self._voicing.submit(self._speech, text)
        if signal is not None:
            self.signal(signal)
        if self._hushed == before:
            self._play(lambda: self._noted(speech.result()))

    def lately(self) -> list[Speech]:
        """What was said in the last seconds, to its end or not."""
        return [speech for ended, speech in self._said if time.monotonic() < ended + LATELY]

    def signal(self, signal: Signal) -> None:
        """Give a signal alone."""
        self._play(lambda: sounded(signal, SIGNAL_RATE))

    def hush(self) -> None:
        """Fall silent at once."""
        self._hushed += 1
        if self._loudspeaker is not None:
            self._loudspeaker.stop()

    def _noted(self, speech: Speech) -> Speech:
        self._said.append((time.monotonic() + speech.seconds, speech))
        return speech

    def _speech(self, text: str) -> Speech:
        if self._voice is None:
            self._voice = open_voice()
        return self._voice.say(text)

    def _play(self, made: Callable[[], Speech]) -> None:
        try:
            if self._outlet is None:
                self._loudspeaker = Loudspeaker()
                self._outlet = self._loudspeaker.play
            self._outlet(made())
        except VoiceError as trouble:
            self._outlet = self._given
            if not self._silent:
                self._silent = True
                self._warn(f"{trouble} The answers are only shown, until it works again.")
            return
        if self._silent:
            self._silent = False
            self._warn("The answers are spoken again.")
