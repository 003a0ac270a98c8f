"""Vosk as an ear, with any model folder."""

from __future__ import annotations

import json
import tempfile
from pathlib import Path
from threading import Lock
from typing import Any

import numpy as np
import vosk

from assistant.hearing.exact import NETWORK, UNKNOWN, WITNESS, is_exact, lay_out, word_graph, word_numbers
from assistant.hearing.port import SAMPLE_RATE, EarError, Hypothesis, Samples, Word
from grammar.automaton import Arc, Automaton

SILENT = -2
"""The log level under that of warnings, of which noise makes many."""

MOST_GUESSES = 4
MOST_SEARCHED = 20

CLOSE = 4.0
"""Score within which another guess is worth a question. With the small trial model that asks about two in three of the
wrong sentences among the bundled ones, and one in four of the right ones."""

DEEP = 10.0
"""The same where the doubt weighs every guess by its score. The lattice of our own model goes as deep."""

AROUND = 0.2
"""Seconds of near silence put before and after an utterance, as the model's training had."""

PHRASES = 3000
"""Sentences from which a model without a word graph of its own learns which word follows which."""

STRANGE = 4.7
"""Cost of hearing an utterance as none of ours: the less, the more is refused. Chosen on the development recordings: of
500 clips of other talk 4 are taken for a sentence, at 5 it were 6."""

MOST_LANGUAGES = 3
"""Languages kept ready: sentences, answers to a question, any sounds. Each holds the model once more."""

ANY_SOUNDS = Automaton("any sounds", frozenset({1}), (Arc(0, 1, UNKNOWN), Arc(1, 1, UNKNOWN)))


class VoskEar:
    """A recogniser of the Vosk library. Built on a folder only: by name the library would go to the network.

    Several threads may use it at once, each with another language, or one of them asking for the witness.
    """

    name = "vosk"

    def __init__(self, folder: Path, *, calibrated: bool = False, network: str = NETWORK) -> None:
        self.calibrated = calibrated
        self._network = network
        self._witness: VoskEar | None = None
        if not (folder / "am" / NETWORK).exists():
            raise EarError(f"{folder} is not a Vosk model folder: it has no am/{NETWORK}.")
        vosk.SetLogLevel(SILENT)
        self._folder = folder
        self._exact = is_exact(folder)
        self._numbers = word_numbers(folder) if self._exact else {}
        self._model = None if self._exact else _loaded(folder)
        self._recognisers: dict[str, vosk.KaldiRecognizer] = {}
        self._fed: dict[str, int] = {}
        self._opening = Lock()

    def hear(self, samples: Samples, language: Automaton) -> tuple[Hypothesis, ...]:
        """Decode a whole utterance."""
        found = self._decoded(samples, language)
        if not found or UNKNOWN in found[0].text.split():
            return ()
        within = [h for h in found if UNKNOWN not in h.text.split()]
        ours = [h for h in within if language.accepts(h.text)] or within[:1]
        close, most = (DEEP, MOST_SEARCHED) if self.calibrated else (CLOSE, MOST_GUESSES)
        return tuple(h for h in ours if h.words and h.score > ours[0].score - close)[:most]

    def prepare(self, language: Automaton) -> None:
        """Load the networks under the language, and under any sounds."""
        self._recogniser(language)
        if self._exact:
            self._recogniser(ANY_SOUNDS)
        if (other := self._other()) is not None:
            other._recogniser(language)

    def any_sounds(self, samples: Samples) -> Hypothesis | None:
        """The likeliest run of sounds, whatever they mean."""
        return next(iter(self._decoded(samples, ANY_SOUNDS)), None)

    def witness(self, samples: Samples, language: Automaton) -> tuple[Hypothesis, ...] | None:
        """What the other network hears, where the model has one."""
        other = self._other()
        return None if other is None else other.hear(samples, language)

    def _other(self) -> VoskEar | None:
        there = self._exact and self._network == NETWORK and (self._folder / "am" / WITNESS).exists()
        if self._witness is None and there:
            self._witness = VoskEar(self._folder, calibrated=self.calibrated, network=WITNESS)
        return self._witness

    def _decoded(self, samples: Samples, language: Automaton) -> list[Hypothesis]:
        """All guesses that have words, `[unk]` among them."""
        recogniser = self._recogniser(language)
        quiet = np.random.default_rng(0).normal(0.0, 20.0, int(AROUND * SAMPLE_RATE)).astype(np.int16)
        # A recogniser counts time on and on: this utterance begins where those before it ended.
        began = self._fed[language.name] / SAMPLE_RATE + AROUND
        whole = np.concatenate([quiet, samples, quiet])
        self._fed[language.name] += len(whole)
        recogniser.AcceptWaveform(whole.tobytes())
        guesses = json.loads(recogniser.FinalResult())["alternatives"]
        return [_hypothesis(guess, began) for guess in guesses if guess["text"]]

    def missing_words(self, language: Automaton) -> list[str]:
        """Words of the language that the model cannot hear."""
        return [word for word in sorted(language.words) if not self._knows(word)]

    def _recogniser(self, language: Automaton) -> vosk.KaldiRecognizer:
        with self._opening:
            if language.name not in self._recognisers:
                if len(self._recognisers) == MOST_LANGUAGES:
                    del self._recognisers[next(iter(self._recognisers))]
                recogniser = self._exactly(language) if self._exact else self._nearly(language)
                recogniser.SetWords(True)
                recogniser.SetMaxAlternatives(MOST_SEARCHED)
                self._recognisers[language.name] = recogniser
                self._fed[language.name] = 0
            else:
                self._recognisers[language.name] = self._recognisers.pop(language.name)  # the last to be let go
            return self._recognisers[language.name]

    def _exactly(self, language: Automaton) -> vosk.KaldiRecognizer:
        """A recogniser that hears the language, or nothing of it."""
        graph = word_graph(language, self._numbers, STRANGE)
        with tempfile.TemporaryDirectory() as name:
            lay_out(self._folder, graph, Path(name), self._network)
            return vosk.KaldiRecognizer(_loaded(Path(name)), SAMPLE_RATE)

    def _nearly(self, language: Automaton) -> vosk.KaldiRecognizer:
        """A recogniser that learned from sentences of the language; it hears others too."""
        phrases = [p for p in sorted(set(language.walks(PHRASES, seed=1))) if self._knows(p)]
        return vosk.KaldiRecognizer(self._model, SAMPLE_RATE, json.dumps([*phrases, UNKNOWN]))

    def _knows(self, phrase: str) -> bool:
        if self._model is None:
            return self._numbers.keys() >= set(phrase.split())
        return all(self._model.vosk_model_find_word(word) >= 0 for word in phrase.split())


def _loaded(folder: Path) -> vosk.Model:
    try:
        return vosk.Model(str(folder))
    except Exception as trouble:
        raise EarError(f"Vosk cannot load the model in {folder}: {trouble}.") from trouble


def _hypothesis(guess: dict[str, Any], began: float) -> Hypothesis:
    words = (Word(w["word"], max(0.0, w["start"] - began), max(0.0, w["end"] - began)) for w in guess.get("result", []))
    return Hypothesis(tuple(words), float(guess["confidence"]))
