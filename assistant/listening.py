"""From utterances of sound to outcomes: the ear hears within what can be said now."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Sequence
from time import perf_counter
from typing import Protocol

import numpy as np

from assistant.doubting.evidence import Evidence, gather, is_hurried
from assistant.doubting.prior import is_coarse, read_off
from assistant.doubting.sizes import is_steep
from assistant.hearing.endpoint import Endpoint, Timing
from assistant.hearing.port import SAMPLE_RATE, Ear, Hypothesis, Samples
from assistant.loudness import Loudness
from assistant.session import Outcome
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


class Listener(Protocol):
    """Who is told what was heard: a session, or whoever measures."""

    doubting: bool

    @property
    def context(self) -> Context:
        """What the next utterance is understood in."""

    def utterance(
        self, guesses: Sequence[str], engine: str = ..., sound: Samples | None = ..., evidence: Evidence | None = ...
    ) -> Outcome:
        """Take one utterance."""

    def settle(self) -> None:
        """Tidy up while nobody waits."""


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
    endpoint, ahead = Endpoint(), _Ahead(ear, session)
    speaking, ready = False, None
    for block in _in_steps(blocks):
        if ready != session.context:  # the sound comes meanwhile, and waits
            ready = session.context
            ear.prepare(language(ready))
        for samples in endpoint.feed(block):
            if own is not None and own(samples):
                ahead.forget()
                continue
            outcome = ahead.answered(samples, endpoint.last_pause)
            yield outcome
            session.settle()
            if outcome.over:
                return
        if endpoint.speaking and not speaking and began is not None:
            began()
        speaking = endpoint.speaking
        if endpoint.pause >= AHEAD * SAMPLE_RATE:
            endpoint.unfinished = ahead.unfinished(endpoint)
    for samples in endpoint.finish():
        yield ahead.answered(samples, endpoint.last_pause)


def listen_once(session: Listener, ear: Ear, blocks: Iterable[Samples]) -> Outcome | None:
    """Take one utterance of a sound that somebody opened and may close: a key says that it is meant for us.

    Where no speech stands out from the noise, all of a sound that was closed is the utterance.
    """
    kept: list[Samples] = []

    def keeping() -> Iterator[Samples]:
        for block in blocks:
            kept.append(block)
            yield block
            if sum(map(len, kept)) >= Timing.longest * SAMPLE_RATE:
                return

    for outcome in listen(session, ear, keeping()):
        return outcome
    whole = np.concatenate(kept) if kept else np.zeros(0, np.int16)
    return _Ahead(ear, session).answered(whole, 0) if len(whole) >= LEAST * SAMPLE_RATE else None


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


class _Ahead:
    """What was heard in an utterance, perhaps before it was known to have ended."""

    def __init__(self, ear: Ear, session: Listener) -> None:
        self._ear = ear
        self._session = session
        self._speech = 0
        self._plain: tuple[Hypothesis, ...] = ()
        self._evidence: Evidence | None = None
        self._loudness = Loudness()

    def unfinished(self, endpoint: Endpoint) -> bool:
        """Whether words were heard that are no sentence as they stand, or one that may well go on."""
        spoken = endpoint.spoken_samples
        if spoken != self._speech:
            self._listen(endpoint.so_far(), spoken)
        if self._doubting and not self._evidence:
            self._listen_again(endpoint.so_far())
        if not self._plain:
            return False
        meaning = self._meaning()
        return (
            isinstance(meaning, Miss)
            or is_hurried(self._plain[0], language(self._session.context))
            or _may_go_on(meaning)
        )

    def forget(self) -> None:
        """Think no more of what was heard."""
        self._speech, self._plain, self._evidence = 0, (), None

    def answered(self, samples: Samples, pause: int) -> Outcome:
        """The outcome of a whole utterance."""
        began = perf_counter()
        if len(samples) - pause != self._speech:
            self._listen(samples, len(samples) - pause)
        if self._doubting and not self._evidence:
            self._listen_again(samples)
        evidence, guesses = self._evidence, [guess.text for guess in self._plain]
        self.forget()
        spent = perf_counter() - began
        outcome = self._session.utterance(guesses, self._ear.name, sound=samples, evidence=evidence)
        outcome = outcome.timed("hear", spent)
        if evidence is None or evidence.is_noise or not outcome.reply.spoken:
            return outcome
        return outcome.remarked(self._loudness.heard(evidence.above_noise))

    @property
    def _doubting(self) -> bool:
        return self._session.doubting and self._ear.calibrated

    def _listen(self, samples: Samples, speech: int) -> None:
        self._speech, self._evidence = speech, None
        self._plain = self._ear.hear(samples, language(self._session.context))

    def _listen_again(self, samples: Samples) -> None:
        meant = not isinstance(self._meaning(), Miss)
        self._evidence = gather(self._ear, samples, language(self._session.context), self._plain, meant=meant)

    def _meaning(self) -> Meaning | Miss:
        return understand(self._plain[0].text if self._plain else "", self._session.context)
