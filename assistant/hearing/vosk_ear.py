"""Vosk as an ear, with any model folder."""

from __future__ import annotations

import json
from itertools import islice
from pathlib import Path

import vosk

from assistant.hearing.port import SAMPLE_RATE, EarError, Hypothesis, Samples, Word
from grammar.automaton import Automaton

UNKNOWN = "[unk]"
MOST_GUESSES = 4
PHRASES = 3000
"""Sentences from which the recogniser learns which word follows which. It takes whole phrases, since from single
words it would learn no order at all."""


class VoskEar:
    """A recogniser of the Vosk library. Built on a folder only: by name the library would go to the network."""

    name = "vosk"

    def __init__(self, folder: Path) -> None:
        if not (folder / "am" / "final.mdl").exists():
            raise EarError(f"{folder} is not a Vosk model folder: it has no am/final.mdl.")
        vosk.SetLogLevel(-1)
        try:
            self._model = vosk.Model(str(folder))
        except Exception as trouble:
            raise EarError(f"Vosk cannot load the model in {folder}: {trouble}.") from trouble
        self._recognisers: dict[str, vosk.KaldiRecognizer] = {}

    def hear(self, samples: Samples, language: Automaton) -> tuple[Hypothesis, ...]:
        """Decode a whole utterance."""
        recogniser = self._recogniser(language)
        quiet = bytes(SAMPLE_RATE // 5 * 2)
        recogniser.AcceptWaveform(quiet + samples.tobytes() + quiet)
        result = json.loads(recogniser.FinalResult())
        guesses = result.get("alternatives", [result])
        found = (_hypothesis(guess) for guess in guesses)
        return tuple(islice((h for h in found if h.words and UNKNOWN not in h.text.split()), MOST_GUESSES))

    def missing_words(self, language: Automaton) -> list[str]:
        """Words of the language that the model cannot hear."""
        return [w for w in sorted(language.words) if self._model.vosk_model_find_word(w) < 0]

    def _recogniser(self, language: Automaton) -> vosk.KaldiRecognizer:
        if language.name not in self._recognisers:
            phrases = [p for p in sorted(set(language.walks(PHRASES, seed=1))) if self._knows(p)]
            grammar = json.dumps([*phrases, UNKNOWN])
            recogniser = vosk.KaldiRecognizer(self._model, SAMPLE_RATE, grammar)
            recogniser.SetWords(True)
            self._recognisers[language.name] = recogniser
        return self._recognisers[language.name]

    def _knows(self, phrase: str) -> bool:
        return all(self._model.vosk_model_find_word(word) >= 0 for word in phrase.split())


def _hypothesis(guess: dict[str, object]) -> Hypothesis:
    words = guess.get("result", [])
    assert isinstance(words, list)
    return Hypothesis(
        tuple(Word(word["word"], word["start"], word["end"]) for word in words),
        float(str(guess.get("confidence", 0.0))),
    )
