"""What an ear is: samples in, the likeliest word sequences out."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Protocol

import numpy as np
import numpy.typing as npt

from assistant.environment import ExitStatus, Trouble
from grammar.automaton import Automaton

SAMPLE_RATE = 16_000
"""Samples per second of every signal between a source and an ear."""

Samples = npt.NDArray[np.int16]
"""One channel of 16-bit samples at `SAMPLE_RATE`."""


class EarError(Trouble):
    """A recogniser or its model cannot be used."""

    status = ExitStatus.EARS


@dataclass(frozen=True)
class Word:
    """A word heard, with its start and end in seconds from the first sample; both 0 where the ear does not tell."""

    text: str
    start: float
    end: float


@dataclass(frozen=True)
class Hypothesis:
    """One guess at a whole utterance. `score` is a log score; only differences within an utterance mean anything."""

    words: tuple[Word, ...]
    score: float

    @property
    def text(self) -> str:
        """The words, joined by single spaces."""
        return " ".join(word.text for word in self.words)


class Ear(Protocol):
    """A recogniser of whole utterances."""

    name: str
    calibrated: bool
    """Whether the doubt was fitted to its scores; what another ear hears is doubted by its guesses alone."""

    def prepare(self, language: Automaton) -> None:
        """Load, while nobody waits, what it takes to hear `language`."""
        ...

    def hear(self, samples: Samples, language: Automaton) -> tuple[Hypothesis, ...]:
        """Return up to a few guesses within `language`, best first; none where nothing of it was heard."""
        ...

    def any_sounds(self, samples: Samples) -> Hypothesis | None:
        """Return the likeliest run of any sounds, words or not, its score to be compared with those of guesses."""
        ...

    def witness(self, samples: Samples, language: Automaton) -> tuple[Hypothesis, ...] | None:
        """Return what another network hears, as `hear` does; None where there is none."""
        ...

    def missing_words(self, language: Automaton) -> list[str]:
        """Return the words of `language` that the model cannot hear."""
        ...
