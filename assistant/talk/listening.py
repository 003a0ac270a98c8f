"""From utterances of sound to outcomes: the ear hears within what can be said now."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Sequence
from dataclasses import dataclass
from pathlib import Path
from time import perf_counter
from typing import Protocol

import numpy as np

from assistant.doubting.evidence import Evidence, gather, is_hurried
from assistant.doubting.prior import is_coarse, read_off
from assistant.doubting.sizes import is_steep
from assistant.hearing.ears import open_ear
from assistant.hearing.endpoint import Endpoint, Timing
from assistant.hearing.port import SAMPLE_RATE, Ear, Hypothesis, Samples
from assistant.hearing.sources import blocks
from assistant.talk.loudness import Loudness
from assistant.talk.session import Outcome
from grammar.automaton import Automaton, compile_language
from grammar.meanings import (
    AskBoard,
    AskCover,
    AskGradeRod,
    AskPart,
    Baseline,
    Benchmark,
    BlueTop,
    ConvertLength,
    ConvertSlope,
    Meaning,
    Miss,
    ReadBack,
    Reading,
    Stake,
)
from grammar.understand import Context, understand

AHEAD = 0.3
"""Seconds of silence after which an utterance is decoded, in the hope that it has ended, and listened to again in other
ways: all that then happens while the rest of the tail is waited for."""

LEAST = 0.3
"""Seconds under which a sound that a key opened holds no word. Our own choice."""

STEP = SAMPLE_RATE // 10
"""Samples after which it is looked whether an utterance has ended."""


class Situation(Protocol):
    """What an utterance is heard in."""

    doubting: bool
    """Whether what was heard is doubted, and so listened to again in other ways."""

    @property
    def context(self) -> Context:
        """What the next utterance is understood in."""


class Listener(Situation, Protocol):
    """Who is told what was heard: a session, or whoever measures."""

    def utterance(
        self, guesses: Sequence[str], engine: str = ..., sound: Samples | None = ..., evidence: Evidence | None = ...
    ) -> Outcome:
        """Take one utterance."""

    def settle(self) -> None:
        """Tidy up while nobody waits."""


@dataclass(frozen=True)
class Heard:
    """An utterance as it sounds: guesses at its words, best first, and what else tells of them.

    `seconds` is the time that it took from its end on.
    """

    sound: Samples
    guesses: tuple[str, ...]
    evidence: Evidence | None
    seconds: float


NOTHING = Heard(np.zeros(0, np.int16), (), None, 0.0)
"""Of which nothing was caught."""


def language(context: Context) -> Automaton:
    """What can be said in a context: sentences, and bare numbers while a question is open."""
    return compile_language("answer" if context.asking else "sentence", context.marking)


def listen(
    session: Listener,
    ear: Ear,
    blocks: Iterable[Samples],
    began: Callable[[], None] | None = None,
    own: Callable[[Samples], bool] | None = None,
) -> Iterator[Outcome]:
    """Take a sound utterance by utterance, until the talk is over or the sound ends.

    `began` is called where an utterance begins: who speaks meanwhile should fall silent. `own` tells of an utterance
    whether it is our own voice, which is not taken.
    """
    hearing, loudness = Hearing(ear, session, own), Loudness()
    speaking = False
    for block in _in_steps(blocks):
        for heard in hearing.feed(block):
            outcome = _taken(session, ear, heard, loudness)
            yield outcome
            session.settle()
            if outcome.over:
                return
        if hearing.speaking and not speaking and began is not None:
            began()
        speaking = hearing.speaking
    for heard in hearing.finish():
        yield _taken(session, ear, heard, loudness)


def hear(session: Listener, path: Path, ear: Ear | None = None) -> Iterator[Outcome]:
    """Hear a recording (WAV, FLAC, OGG) utterance by utterance, by our own ear if no other is given.

    Raises `SoundError` for a file that cannot be read, `EarError` where there is no ear.
    """
    return listen(session, ear or open_ear(None, None), blocks(path))


def listen_once(session: Listener, ear: Ear, blocks: Iterable[Samples]) -> Outcome | None:
    """Take one utterance of a sound that somebody opened and may close: a key says that it is meant for us.

    Where no speech stands out from the noise, all of a sound that was closed is the utterance. Of one that nobody
    closes nothing is believed, for it may be cut in a number: it is to be said again.
    """
    hearing, loudness = Hearing(ear, session), Loudness()
    kept: list[Samples] = []
    count = 0
    for block in _in_steps(blocks):
        kept.append(block)
        count += len(block)
        for heard in hearing.feed(block):
            return _taken(session, ear, heard, loudness)
        if count >= Timing.longest * SAMPLE_RATE:
            return _taken(session, ear, NOTHING, loudness)
    for heard in hearing.finish():
        return _taken(session, ear, heard, loudness)
    if count < LEAST * SAMPLE_RATE:
        return None
    return _taken(session, ear, hearing.whole(np.concatenate(kept)), loudness)


def _taken(session: Listener, ear: Ear, heard: Heard, loudness: Loudness) -> Outcome:
    outcome = session.utterance(heard.guesses, ear.name, sound=heard.sound, evidence=heard.evidence)
    return outcome.timed("hear", heard.seconds).remarked(loudness.remark(heard.evidence, outcome.reply))


def _in_steps(blocks: Iterable[Samples]) -> Iterator[Samples]:
    for block in blocks:
        for at in range(0, len(block), STEP):
            yield block[at : at + STEP]


AT_A_PLACE = Reading | Baseline | Stake | BlueTop | AskGradeRod | AskBoard | AskPart | AskCover
"""What is mostly said of a place, which comes last."""


def _may_go_on(meaning: Meaning) -> bool:
    """Whether a sentence may lack its place or the unit that is asked for, a reading or an elevation its last figure,
    "one in one" its "hundred", or "the last" how many: half is another number.
    """
    match meaning:
        case ReadBack(count=1) | ConvertLength(marking=None) | ConvertSlope(unit=None):
            return True
    if isinstance(meaning, AT_A_PLACE) and meaning.station is None:
        return True
    read = meaning.elevation if isinstance(meaning, Benchmark) else read_off(meaning)
    return is_steep(meaning) or (read is not None and is_coarse(read))


class Hearing:
    """Sound pushed in, in order; utterances out when they end.

    What is said is heard ahead of its end, in the hope that it has ended: so it is known whether words are missing, and
    more are waited for.
    """

    def __init__(self, ear: Ear, situation: Situation, own: Callable[[Samples], bool] | None = None) -> None:
        self._ear = ear
        self._situation = situation
        self._own = own
        self._endpoint = Endpoint()
        self._ready: Context | None = None
        self._speech = 0
        self._plain: tuple[Hypothesis, ...] = ()
        self._evidence: Evidence | None = None

    @property
    def speaking(self) -> bool:
        """Whether an utterance has begun and not ended."""
        return self._endpoint.speaking

    def feed(self, block: Samples) -> Iterator[Heard]:
        """Take a block; the utterances that it ends. Each is to be answered before the next is asked for.

        Of talk that goes on for longer than an utterance can there is none: a piece of it would be another sentence.
        """
        self._prepare()
        for samples in self._endpoint.feed(block):
            if (self._own is not None and self._own(samples)) or not len(samples):
                self._forget()  # without samples: talk too long to be an utterance
                continue
            yield self._ended(samples, self._endpoint.last_pause)
            self._prepare()
        if self._endpoint.pause >= AHEAD * SAMPLE_RATE:
            self._endpoint.unfinished = self._unfinished()

    def finish(self) -> Iterator[Heard]:
        """The end of the sound: an utterance that is going on ends here."""
        for samples in self._endpoint.finish():
            yield self._ended(samples, self._endpoint.last_pause)

    def whole(self, samples: Samples) -> Heard:
        """A sound of which it is known that it is one utterance."""
        return self._ended(samples, 0)

    def words_so_far(self) -> str:
        """The likeliest words of the utterance that is going on; for the eye only: its last word may be half."""
        heard = self._plain
        if self._endpoint.spoken_samples != self._speech:
            heard = self._ear.hear(self._endpoint.so_far(), language(self._situation.context))
        return heard[0].text if heard else ""

    def _prepare(self) -> None:
        if self._ready != self._situation.context:  # the sound comes meanwhile, and waits
            self._ready = self._situation.context
            self._ear.prepare(language(self._ready))

    def _unfinished(self) -> bool:
        """Whether words were heard that are no sentence as they stand, or one that may well go on."""
        spoken = self._endpoint.spoken_samples
        if spoken != self._speech:
            self._hear(self._endpoint.so_far(), spoken)
        if self._doubting and not self._evidence:
            self._hear_again(self._endpoint.so_far())
        if not self._plain:
            return False
        meaning = self._meaning()
        return (
            isinstance(meaning, Miss)
            or is_hurried(self._plain[0], language(self._situation.context))
            or _may_go_on(meaning)
        )

    def _ended(self, samples: Samples, pause: int) -> Heard:
        began = perf_counter()
        if len(samples) - pause != self._speech:
            self._hear(samples, len(samples) - pause)
        if self._doubting and not self._evidence:
            self._hear_again(samples)
        guesses, evidence = tuple(guess.text for guess in self._plain), self._evidence
        self._forget()
        return Heard(samples, guesses, evidence, perf_counter() - began)

    def _forget(self) -> None:
        self._speech, self._plain, self._evidence = 0, (), None

    @property
    def _doubting(self) -> bool:
        return self._situation.doubting and self._ear.calibrated

    def _hear(self, samples: Samples, speech: int) -> None:
        self._speech, self._evidence = speech, None
        self._plain = self._ear.hear(samples, language(self._situation.context))

    def _hear_again(self, samples: Samples) -> None:
        meant = not isinstance(self._meaning(), Miss)
        self._evidence = gather(self._ear, samples, language(self._situation.context), self._plain, meant=meant)

    def _meaning(self) -> Meaning | Miss:
        return understand(self._plain[0].text if self._plain else "", self._situation.context)
