"""The sound of one utterance while it comes in: words so far, whether it has ended, and at the end all guesses."""

from __future__ import annotations

import numpy as np

from assistant.doubting.evidence import Evidence, gather
from assistant.hearing.endpoint import Endpoint
from assistant.hearing.port import SAMPLE_RATE, Ear, Hypothesis, Samples
from assistant.listening import AHEAD, language
from grammar.meanings import Miss
from grammar.understand import Context, understand

EVERY = int(0.6 * SAMPLE_RATE)
"""Samples after which the words so far are worked out anew."""


class Utterance:
    """One utterance. Fed in order; belongs to the thread of the ear."""

    def __init__(self, ear: Ear) -> None:
        self.broken = False
        """Whether a piece of it got lost in a failure."""
        self._ear = ear
        self._endpoint = Endpoint()
        self._found: list[Samples] = []
        self._all: list[Samples] = []
        self._count = 0
        self._partial_at = EVERY
        self._ahead: tuple[int, tuple[Hypothesis, ...]] = (0, ())

    @property
    def ended(self) -> bool:
        """Whether something was said, and then nothing for a while."""
        return bool(self._found) and not self._endpoint.speaking

    def feed(self, sound: bytes, context: Context) -> str | None:
        """Take sound; now and then return the words so far."""
        samples = np.frombuffer(sound, "<i2").astype(np.int16)
        self._all.append(samples)
        self._count += len(samples)
        self._found.extend(self._endpoint.feed(samples))
        if not self._endpoint.speaking:
            return None
        paused = self._endpoint.pause >= AHEAD * SAMPLE_RATE and self._ahead[0] != self._spoken()
        if not paused and self._count < self._partial_at:
            return None
        self._partial_at = self._count + EVERY
        guesses = self._decoded(self._endpoint.so_far(), context)
        if self._endpoint.pause >= AHEAD * SAMPLE_RATE and not self._found:
            self._ahead = (self._spoken(), guesses)
        return guesses[0].text if guesses else None

    def ended_as(self, context: Context) -> tuple[Samples, list[str], Evidence | None] | None:
        """All that was said, guesses at it, and what it sounds like, listened to again and again; none without words.

        With a pause in the middle, or all in noise, all of the sound counts.
        """
        spoken = self._spoken()
        self._found.extend(self._endpoint.finish())
        if len(self._found) != 1:
            if not self._all:
                return None
            sound = np.concatenate(self._all)
            plain = self._decoded(sound, context)
        else:
            sound = self._found[0]
            ready = self._ahead[0] == spoken and bool(spoken)
            plain = self._ahead[1] if ready else self._decoded(sound, context)
        if not plain:
            return None
        guesses = [guess.text for guess in plain]
        if not self._ear.calibrated:
            return sound, guesses, None
        meant = not isinstance(understand(plain[0].text, context), Miss)
        return sound, guesses, gather(self._ear, sound, language(context), plain, meant=meant)

    def _spoken(self) -> int:
        """Samples of the utterance that is going on, without the silence at its end."""
        return len(self._endpoint.so_far()) - self._endpoint.pause

    def _decoded(self, samples: Samples, context: Context) -> tuple[Hypothesis, ...]:
        return self._ear.hear(samples, language(context))
