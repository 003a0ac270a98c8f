"""A word that comes before each sentence, so that talk on an open microphone that is not meant for us stays out."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from functools import cache

from assistant.hearing.port import Ear, Hypothesis, Samples
from grammar.automaton import Arc, Automaton

LEAD = "rodside"


@cache
def led(language: Automaton) -> Automaton:
    """The same sentences, each after the lead word."""
    arcs = (Arc(arc.source + 1, arc.target + 1, arc.word) for arc in language.arcs)
    return Automaton(f"led {language.name}", frozenset(f + 1 for f in language.finals), (Arc(0, 1, LEAD), *arcs))


class LedEar:
    """An ear that hears only what follows the lead word, wherever that is `needed`; it tells the words after it."""

    def __init__(self, ear: Ear, needed: Callable[[], bool]) -> None:
        self._ear, self.needed = ear, needed
        self.name, self.calibrated = ear.name, ear.calibrated

    def hear(self, samples: Samples, language: Automaton) -> tuple[Hypothesis, ...]:
        """Return guesses at what follows; none where the lead word was not heard."""
        if not self.needed():
            return self._ear.hear(samples, language)
        return tuple(map(_without, self._ear.hear(samples, led(language))))

    def any_sounds(self, samples: Samples) -> Hypothesis | None:
        """Return the likeliest run of any sounds, the lead word's among them."""
        return self._ear.any_sounds(samples)

    def witness(self, samples: Samples, language: Automaton) -> tuple[Hypothesis, ...] | None:
        """Return what another network hears after the lead word."""
        if not self.needed():
            return self._ear.witness(samples, language)
        found = self._ear.witness(samples, led(language))
        return None if found is None else tuple(map(_without, found))

    def missing_words(self, language: Automaton) -> list[str]:
        """Return the words, the lead word among them, that the model cannot hear."""
        return self._ear.missing_words(led(language))


def _without(guess: Hypothesis) -> Hypothesis:
    return replace(guess, words=guess.words[1:])
