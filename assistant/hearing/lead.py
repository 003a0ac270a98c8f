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
    """The same sentences, after the lead word or without it: else one that lacks it would be heard with it."""
    arcs = [Arc(arc.source + 1, arc.target + 1, arc.word) for arc in language.arcs]
    without = (Arc(0, arc.target, arc.word) for arc in arcs if arc.source == 1)
    finals = frozenset(final + 1 for final in language.finals)
    return Automaton(f"led {language.name}", finals, (Arc(0, 1, LEAD), *without, *arcs))


class LedEar:
    """An ear that hears only what follows the lead word, wherever that is `needed`; it tells the words after it."""

    def __init__(self, ear: Ear, needed: Callable[[], bool]) -> None:
        self._ear, self.needed = ear, needed
        self.name, self.calibrated = ear.name, ear.calibrated

    def prepare(self, language: Automaton) -> None:
        """Load what it takes to hear the sentences, after the lead word where that is needed."""
        self._ear.prepare(led(language) if self.needed() else language)

    def hear(self, samples: Samples, language: Automaton) -> tuple[Hypothesis, ...]:
        """Return guesses at what follows; none where the lead word was not heard."""
        if not self.needed():
            return self._ear.hear(samples, language)
        return _led(self._ear.hear(samples, led(language)))

    def any_sounds(self, samples: Samples) -> Hypothesis | None:
        """Return the likeliest run of any sounds, the lead word's among them."""
        return self._ear.any_sounds(samples)

    def witness(self, samples: Samples, language: Automaton) -> tuple[Hypothesis, ...] | None:
        """Return what another network hears after the lead word."""
        if not self.needed():
            return self._ear.witness(samples, language)
        found = self._ear.witness(samples, led(language))
        return None if found is None else _led(found)

    def missing_words(self, language: Automaton) -> list[str]:
        """Return the words, the lead word among them, that the model cannot hear."""
        return self._ear.missing_words(led(language))


def _led(found: tuple[Hypothesis, ...]) -> tuple[Hypothesis, ...]:
    """What follows the lead word, if that was heard first of all."""
    if not found or found[0].words[0].text != LEAD:
        return ()
    return tuple(replace(guess, words=guess.words[1:]) for guess in found if guess.words[0].text == LEAD)
