"""Answers as sound for the phones: sentence by sentence, so that the first is there soon."""

from __future__ import annotations

import io
import re
from collections import OrderedDict
from collections.abc import Callable

from assistant.speaking.port import Voice, VoiceError
from assistant.speaking.voices import open_voice

KEPT = 200
"""Sentences whose sound is kept: the same come again and again."""


class Speaker:
    """A voice that gives WAV files; silent, after a word about it, where there is none."""

    def __init__(self, warn: Callable[[str], None], open_one: Callable[[], Voice] = open_voice) -> None:
        self._warn = warn
        self._open = open_one
        self._voice: Voice | None = None
        self._mute = False
        self._kept: OrderedDict[str, bytes] = OrderedDict()

    def wav(self, sentence: str) -> bytes | None:
        """The sound of one sentence."""
        if self._mute:
            return None
        if sentence not in self._kept:
            try:
                self._kept[sentence] = self._made(sentence)
            except VoiceError as trouble:
                self._mute = True
                self._warn(f"{trouble} The phones show the answers and do not speak them.")
                return None
            if len(self._kept) > KEPT:
                self._kept.popitem(last=False)
        self._kept.move_to_end(sentence)
        return self._kept[sentence]

    def _made(self, sentence: str) -> bytes:
        import soundfile

        if self._voice is None:
            self._voice = self._open()
        speech, stream = self._voice.say(sentence), io.BytesIO()
        soundfile.write(stream, speech.samples, speech.rate, format="WAV", subtype="PCM_16")
        return stream.getvalue()


def sentences(spoken: str) -> list[str]:
    """The text in the pieces that are spoken one after another."""
    return [piece for piece in re.split(r"(?<=[.?!])\s+", spoken.strip()) if piece]
