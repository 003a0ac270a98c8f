"""PocketSphinx as an ear: the automaton itself is the grammar, and an all-phone decoder tells what is outside it."""

from __future__ import annotations

import math
from collections.abc import Iterator
from importlib.resources import files
from itertools import islice
from pathlib import Path

import numpy as np
import pocketsphinx

from assistant.hearing.port import SAMPLE_RATE, EarError, Hypothesis, Samples, Word
from grammar.automaton import Automaton
from grammar.words import table

MOST_GUESSES = 4

MOST_LANGUAGES = 2
"""Languages kept ready: sentences, and answers to a question. Each takes 46 MB, and a third of a second to make."""

MOST_SEARCHED = 50
"""Guesses looked at, many of which differ only in silences."""

UNLIKELY = 400.0
"""Log score within which a whole sentence is preferred to a likelier one that breaks off."""

CLOSE = 50.0
"""Log score within which another guess is worth a question: further off, it is hardly ever what was said."""

FRAMES_PER_SECOND = 100

SENTENCE_SCALE = 1024
"""What the sound scores of words are times those of single sounds: the recogniser keeps them at another precision."""

Scored = tuple[int, int, float]
"""First frame, the frame after the last, log score."""

MOST_PATHS = 600
"""Paths followed in a frame. With as many as the recogniser likes, the bundled sentences come out no better, and noise
costs as much time as it lasts."""

STRANGEST = -7.6
"""Log score a frame of the utterance, over that of any run of sounds, below which it was no sentence of ours. Of 102
clips of other talk 5 are let through here and at -6 alike, and two bundled sentences more."""

STRANGEST_WORDS = -26.0
"""The same for the sounds of the words alone. Both together were set on recordings of people saying other things
against voices saying ours; `rodside bench ears` shows what they let through."""

LONGEST_WORD = 1.5
"""Seconds. What lasts longer is noise taken for a word: no word of the bundled sentences lasts 0.9."""

USUAL_LEVEL = 6000.0
"""Where the loudest twentieth of the samples is brought to."""

NOISE_FLOOR = 30.0
"""Standard deviation of the noise put under everything."""


class SphinxEar:
    """The recogniser of the PocketSphinx package, with the English model in its wheel."""

    name = "sphinx"
    calibrated = False

    def __init__(self) -> None:
        model = Path(pocketsphinx.get_model_path()) / "en-us"
        try:
            self._decoder = pocketsphinx.Decoder(
                hmm=str(model / "en-us"),
                dict=None,
                lm=None,
                lw=2.0,
                wip=0.2,
                silprob=0.1,
                maxhmmpf=MOST_PATHS,
                samprate=float(SAMPLE_RATE),
                loglevel="FATAL",
            )
            self._sounds = pocketsphinx.Decoder(
                hmm=str(model / "en-us"),
                allphone=str(model / "en-us-phone.lm.bin"),
                dict=None,
                lw=2.0,
                beam=1e-20,
                pbeam=1e-20,
                samprate=float(SAMPLE_RATE),
                loglevel="FATAL",
            )
        except RuntimeError as trouble:
            raise EarError(f"PocketSphinx cannot load its model ({trouble}); install it again.") from trouble
        for word, sounds in _pronunciations(model / "cmudict-en-us.dict"):
            _add_word(self._decoder, word, sounds)
        self._languages: list[str] = []

    def hear(self, samples: Samples, language: Automaton) -> tuple[Hypothesis, ...]:
        """Decode a whole utterance."""
        self._use(language)
        if not len(samples):
            return ()
        data = _prepared(samples).tobytes()
        self._decoder.start_utt()
        self._decoder.process_raw(data, no_search=False, full_utt=True)
        self._decoder.end_utt()
        best = self._decoder.hyp()
        if best is None or not best.hypstr:
            return ()
        words = tuple(self._words())
        if not words or max(word.end - word.start for word in words) > LONGEST_WORD:
            return ()
        first = Hypothesis(words, _log(best.score))
        if self._is_strange(data, first.score):
            return ()
        guesses = [first, *self._others(first)]
        whole = sorted(
            (guess for guess in guesses if language.accepts(guess.text)), key=lambda guess: guess.score, reverse=True
        ) or [first]
        return tuple(guess for guess in whole if guess.score > whole[0].score - CLOSE)[:MOST_GUESSES]

    def prepare(self, language: Automaton) -> None:
        """Compile the language."""
        self._use(language)

    def witness(self, samples: Samples, language: Automaton) -> None:
        """There is no other network."""

    def any_sounds(self, samples: Samples) -> Hypothesis | None:
        """The likeliest run of sounds, as one word."""
        free = self._free(_prepared(samples).tobytes())
        return None if free is None else Hypothesis((Word("any", 0.0, len(samples) / SAMPLE_RATE),), free)

    def _free(self, data: bytes) -> float | None:
        """Log score of the likeliest run of sounds."""
        self._sounds.start_utt()
        self._sounds.process_raw(data, no_search=False, full_utt=True)
        self._sounds.end_utt()
        free = self._sounds.hyp()
        return None if free is None else _log(free.score)

    def missing_words(self, language: Automaton) -> list[str]:
        """Words of the language that the model cannot hear."""
        return [w for w in sorted(language.words) if self._decoder.lookup_word(w) is None]

    def _use(self, language: Automaton) -> None:
        if language.name not in self._languages:
            missing = self.missing_words(language)
            if missing:
                raise EarError(f"The recogniser does not know how to hear: {', '.join(missing)}.")
            if len(self._languages) == MOST_LANGUAGES:
                self._decoder.activate_search(self._languages[-1])  # what is active cannot be removed
                self._decoder.remove_search(self._languages.pop(0))
            fsg = self._decoder.create_fsg(language.name, 0, _end(language), list(_transitions(language)))
            self._decoder.add_fsg(language.name, fsg)
            self._languages.append(language.name)
        self._decoder.activate_search(language.name)

    def _segments(self) -> Iterator[pocketsphinx.Segment]:
        """The words of the best guess, without silences."""
        return (s for s in self._decoder.seg() if s.word[0] not in "<([" and s.end_frame > s.start_frame)

    def _words(self) -> Iterator[Word]:
        for segment in self._segments():
            start, end = segment.start_frame, segment.end_frame + 1
            text = segment.word.partition("(")[0]
            yield Word(text, start / FRAMES_PER_SECOND, end / FRAMES_PER_SECOND)

    def _others(self, first: Hypothesis) -> Iterator[Hypothesis]:
        """Other word sequences not much less likely; the first may break off in the middle of a sentence."""
        seen = {first.text}
        for guess in islice(self._decoder.nbest(), MOST_SEARCHED):
            if guess is None or not guess.hypstr:
                return
            text = " ".join(w.partition("(")[0] for w in guess.hypstr.split() if not w.startswith("<"))
            if text not in seen and _log(guess.score) > first.score - UNLIKELY:
                seen.add(text)
                yield Hypothesis(tuple(Word(w, 0.0, 0.0) for w in text.split()), _log(guess.score))

    def _is_strange(self, data: bytes, score: float) -> bool:
        """Whether any run of sounds is so much likelier that the sentence was none of ours."""
        words = [(s.start_frame, s.end_frame + 1, _log(s.ascore) / SENTENCE_SCALE) for s in self._segments()]
        free = self._free(data)
        if free is None:
            return False
        sounds = [(s.start_frame, s.end_frame + 1, _log(s.ascore)) for s in self._sounds.seg()]
        frames = max(end for _, end, _ in sounds)
        whole = (score - free) / frames
        return whole < STRANGEST or _over(words, sounds, frames) < STRANGEST_WORDS


def _over(words: list[Scored], sounds: list[Scored], frames: int) -> float:
    """Log score a frame of the words, over that of the sounds in the same frames."""
    free = np.zeros(frames)
    for start, end, score in sounds:
        free[start:end] = score / (end - start)
    count = sum(end - start for start, end, _ in words)
    return sum(score - float(np.sum(free[start:end])) for start, end, score in words) / count


def _prepared(samples: Samples) -> Samples:
    """Bring speech to a usual level over a floor of faint noise: the model never heard digital silence."""
    sound = samples.astype(np.float64) - float(np.mean(samples))
    loud = float(np.percentile(np.abs(sound), 95)) or 1.0
    faint = np.random.default_rng(0).normal(0.0, NOISE_FLOOR, len(sound))
    level = np.clip(sound * (USUAL_LEVEL / loud) + faint, -32768, 32767)
    return level.astype(np.int16)


def _log(score: float) -> float:
    """The recogniser's own log score; it tells only powers of 1.0001."""
    return math.log(max(score, 1e-300)) / math.log(1.0001)


def _end(language: Automaton) -> int:
    return max(arc.target for arc in language.arcs) + 1


def _transitions(
    language: Automaton,
) -> Iterator[tuple[int, int, float] | tuple[int, int, float, str]]:
    """The automaton, with one end: every final state leads there without a word."""
    ways: dict[int, int] = dict.fromkeys(language.finals, 1)
    for arc in language.arcs:
        ways[arc.source] = ways.get(arc.source, 0) + 1
    for arc in language.arcs:
        yield arc.source, arc.target, 1.0 / ways[arc.source], arc.word
    for final in language.finals:
        yield final, _end(language), 1.0 / ways[final]


def _pronunciations(dictionary: Path) -> Iterator[tuple[str, str]]:
    """Every way to say each of our words: the English dictionary's, then our own.

    Only our words are loaded, since the whole dictionary would take a second and 200 MB.
    """
    ours = set(table().terminals)
    with dictionary.open(encoding="utf-8") as lines:
        for line in lines:
            word, _, sounds = line.partition(" ")
            if word.partition("(")[0] in ours:
                yield word.partition("(")[0], sounds.strip()
    text = files("assistant.hearing").joinpath("pronunciations.txt").read_text("utf-8")
    for line in text.splitlines():
        if line and line[0] != "#":
            word, sounds = line.split(maxsplit=1)
            yield word, sounds


def _add_word(decoder: pocketsphinx.Decoder, word: str, sounds: str) -> None:
    """Add a word, or one more way to say a known one."""
    name, way = word, 2
    while decoder.lookup_word(name) is not None:
        name = f"{word}({way})"
        way += 1
    decoder.add_word(name, sounds, True)
