"""The sound of one utterance while it comes in from a phone: words so far, whether it has ended, and all of it."""

from __future__ import annotations

import numpy as np

from assistant.hearing.port import SAMPLE_RATE, Ear, Samples
from assistant.talk.listening import Heard, Hearing, Situation

EVERY = int(0.6 * SAMPLE_RATE)
"""Samples after which the words so far are worked out anew."""


class Utterance:
    """One utterance, whose end a hand tells: what ends before that may go on. Belongs to the thread of the ear."""

    def __init__(self, ear: Ear, situation: Situation) -> None:
        self.broken = False
        """Whether a piece of it got lost in a failure."""
        self.too_long = False
        """Whether more came than is kept: what there is of it may be cut in a number."""
        self._hearing = Hearing(ear, situation)
        self._found: list[Heard] = []
        self._all: list[Samples] = []
        self._count = 0
        self._words_at = EVERY

    @property
    def ended(self) -> bool:
        """Whether something was said, and then nothing for a while."""
        return bool(self._found) and not self._hearing.speaking

    def feed(self, sound: bytes) -> str | None:
        """Take sound; now and then return the words so far."""
        samples = np.frombuffer(sound, "<i2").astype(np.int16)
        self._all.append(samples)
        self._count += len(samples)
        self._found.extend(self._hearing.feed(samples))
        if not self._hearing.speaking or self._count < self._words_at:
            return None
        self._words_at = self._count + EVERY
        return self._hearing.words_so_far() or None

    def whole(self) -> Heard | None:
        """All that was said; none without words, or of what went on for too long.

        With a pause in it, or all in noise, all of the sound counts.
        """
        self._found.extend(self._hearing.finish())
        if not self._all or self.too_long:
            return None
        heard = self._found[0] if len(self._found) == 1 else self._hearing.whole(np.concatenate(self._all))
        return heard if heard.guesses else None
