"""What speaks for and against what was heard: the same sound, listened to in several ways."""

from __future__ import annotations

from collections.abc import Callable, Collection, Iterable
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass, replace

import numpy as np
import numpy.typing as npt
import soxr

from assistant.doubting.confusions import is_number
from assistant.hearing.endpoint import Timing
from assistant.hearing.port import SAMPLE_RATE, Ear, Hypothesis, Samples
from assistant.hearing.voicing import FRAME, Voicing, bands
from grammar.automaton import Automaton

Sound = npt.NDArray[np.float32]

Guesses = tuple[tuple[str, float], ...]
"""Words and log scores of one listening, best first."""

SLOWER = 0.93
"""How fast the sound is played to be heard again: a word that was really said is heard at another speed too. A faster
one beside it gained nothing (928 utterances of 28 days, loss held out 0.113 with it, 0.108 without)."""

BRIGHTER = 4.0
"""Decibels an octave by which the sound is made brighter, and slower, to be heard once more: what depends on the
microphone is heard otherwise then. Of 27 of 780 utterances misheard (people's digits, flite and hibari; clean, 20 and
10 dB) it disagreed with 19 and with 14 of those heard right; slower alone with 10 and 5, a hiss of 15 dB with 8 and 32,
brighter alone with 8 and 5, slower and darker with 9 and 19, the witness with 10 and 20."""

BEND = 100.0
"""Hertz under which the sound is hardly made fainter: there is no speech there."""

LEAST_LAST = 0.165
"""Seconds under which the last word of a sentence is hardly one. Who pauses in the middle of a sentence was heard to
have ended it, by the shortest word that could end it: of 50 such ends ("at station four") 36 were shorter, of 330
sentences heard right, to 10 dB, one was (0.06, "wake up"), the next had 0.18. A last word without which the sentence is
one too was not put there for its end: in "station sixty one" a fast speaker's "one" is shorter."""

LEAST_NUMBER = 0.1
"""Seconds under which no number word lasts: the shortest of 637 heard right, in sentences to 10 dB, had 0.12."""

WITNESS_COUNTS = 2
"""Listenings that the witness counts for: it errs more for itself than another listening does. Of 1, 2 and 4 the
calibration liked 2 and 4."""

SHORTEST_WORD = 0.1
"""Seconds."""

SHORTEST = 3
"""Words from which what has no meaning was perhaps a sentence."""


SENTENCE = 5
"""Words from which it was surely one, if it is like speech: of 1,000 times other talk (two rods, 500 clips) none was
heard so without a meaning."""

LIKE_ANY_SOUND = 1.5
"""The score over any run of sounds, a second, under which a doubtful sentence of many words is noise too. Of 1,538
utterances and 249 times noise and other talk, hopeless noise was at most at 1.3 there, hopeless people at most at 0.1
or at 4 and over. Of 95 sentences of people without a meaning, of 5,721, all that were under it had not a word heard."""


@dataclass(frozen=True)
class Evidence:
    """Guesses of each listening, the plain one first.

    `seconds` is how long something was said, `above_noise` decibels of the speech over the noise, and `over` the
    log score of the plain listening above that of any run of sounds. `witness` is what another network heard, None
    where there is none. `hurried` is whether a word of the plain listening was too short to have been said.
    """

    listenings: tuple[Guesses, ...]
    seconds: float
    above_noise: float
    over: float = 0.0
    witness: Guesses | None = None
    hurried: bool = False

    @property
    def plain(self) -> str:
        """The likeliest words of the plain listening; none if it heard nothing."""
        return self.listenings[0][0][0] if self.listenings[0] else ""

    @property
    def over_a_second(self) -> float:
        """The score over that of any run of sounds, for each second."""
        return self.over / self.seconds

    @property
    def all_heard(self) -> tuple[Guesses, ...]:
        """The listenings, and what the witness heard, if there is one, as often as it counts."""
        return self.listenings if self.witness is None else (*self.listenings, *[self.witness] * WITNESS_COUNTS)

    @property
    def is_faint(self) -> bool:
        """Whether half of the listenings, or more, heard nothing of ours."""
        return 2 * sum(not listening for listening in self.listenings) >= len(self.listenings)

    @property
    def is_like_any_sound(self) -> bool:
        """Whether it fits hardly better than any run of sounds."""
        return self.over_a_second <= LIKE_ANY_SOUND

    @property
    def is_noise(self) -> bool:
        """Whether hardly two listenings heard the same words, or few words: so it is with noise and other talk.

        It matters where what was heard has no meaning, or hopelessly little for it. Many words are for us, however
        they were heard.
        """
        tops = [listening[0][0] for listening in self.listenings if listening]
        if not tops:
            return True
        if min(len(top.split()) for top in tops) >= SENTENCE and not self.is_like_any_sound:
            return False
        most = max(tops, key=tops.count)
        return 2 * tops.count(most) <= len(self.listenings) or len(most.split()) < SHORTEST


def favoured(evidence: Evidence, texts: Collection[str], bonus: float) -> Evidence:
    """The same with some texts scored higher by all that listened."""

    def again(listening: Guesses) -> Guesses:
        scored = ((text, score + bonus * (text in texts)) for text, score in listening)
        return tuple(sorted(scored, key=lambda guess: -guess[1]))

    witness = None if evidence.witness is None else again(evidence.witness)
    return replace(evidence, listenings=tuple(map(again, evidence.listenings)), witness=witness)


def is_hurried(guess: Hypothesis, language: Automaton) -> bool:
    """Whether a sentence has a number too short to have been said, or a last word, and needs that to be a sentence."""
    lasted = [(word.text, word.end - word.start) for word in guess.words]
    if any(0 < seconds < LEAST_NUMBER for text, seconds in lasted if is_number(text)):
        return True
    is_short = len(lasted) >= SHORTEST and 0 < lasted[-1][1] < LEAST_LAST
    return is_short and not language.accepts(" ".join(text for text, _ in lasted[:-1]))


def gather(ear: Ear, samples: Samples, language: Automaton, plain: tuple[Hypothesis, ...], *, meant: bool) -> Evidence:
    """Listen to an utterance again and again, after a plain listening that heard words.

    Where those have no meaning (`meant` is false) once is enough, to tell talk from noise. What other recognisers than
    that of the plain listening have to tell is asked for meanwhile.
    """
    ways = _changed(samples) if plain else []
    with ThreadPoolExecutor(1) as beside:
        any_sounds = beside.submit(ear.any_sounds, samples) if plain else None
        asked = beside.submit(ear.witness, samples, language) if plain and meant else None
        again = [heard(ear, way(), language) for way in (ways if meant else ways[:1])]
    sounds = any_sounds.result() if any_sounds else None
    witness = asked.result() if asked else None
    seconds = sounds.words[-1].end - sounds.words[0].start if sounds else len(samples) / SAMPLE_RATE
    over = plain[0].score - sounds.score if sounds else 0.0
    return Evidence(
        (guesses(plain), *again),
        max(seconds, SHORTEST_WORD),
        above_noise(samples),
        over,
        None if witness is None else guesses(witness),
        bool(plain) and is_hurried(plain[0], language),
    )


def heard(ear: Ear, samples: Samples, language: Automaton) -> Guesses:
    """One listening."""
    return guesses(ear.hear(samples, language))


def guesses(found: Iterable[Hypothesis]) -> Guesses:
    """Words and scores alone."""
    return tuple((guess.text, guess.score) for guess in found)


def above_noise(samples: Samples) -> float:
    """Decibels by which the loudest tenth of the frames is above the mean of the pauses; none if there are none.

    Levels alone took what is between two blows of a hammer for the noise: at 10 dB of six recorded noises their
    quietest tenth was 15 to 25 dB (medians) under the speech, these pauses 13 to 19.
    """
    frames = samples[: len(samples) // FRAME * FRAME].reshape(-1, FRAME).astype(np.float32)
    voicing = Voicing()
    pauses = np.array([voicing(seen) < Timing.goes_on for seen in bands(frames / np.float32(32768))], bool)
    if not pauses.any():
        return 0.0
    power = np.mean(frames.astype(np.float64) ** 2, axis=1) + 1
    return float(10 * np.log10(np.percentile(power, 90) / np.mean(power[pauses])))


def _changed(samples: Samples) -> list[Callable[[], Samples]]:
    """The sound played slower, and slower and brighter."""
    sound = samples.astype(np.float32)
    return [lambda: _slower(sound), lambda: _slower(_brighter(sound))]


def _slower(sound: Sound) -> Samples:
    return _whole(soxr.resample(sound, SAMPLE_RATE * SLOWER, SAMPLE_RATE))


def _brighter(sound: Sound) -> Sound:
    """The sound with its high tones louder against its low ones, as loud as it was."""
    octaves = np.log2((np.fft.rfftfreq(len(sound), 1 / SAMPLE_RATE) + BEND) / 1000)
    bright = np.fft.irfft(np.fft.rfft(sound) * 10 ** (BRIGHTER * octaves / 20), len(sound))
    return np.asarray(bright * np.sqrt(np.mean(sound**2) / (np.mean(bright**2) + 1e-9)), np.float32)


def _whole(sound: npt.NDArray[np.floating]) -> Samples:
    return np.asarray(np.clip(sound, -32768, 32767), np.int16)
