"""From utterances of sound to outcomes: the ear hears within what can be said now."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from time import perf_counter
from typing import Protocol

from assistant.doubting.evidence import Evidence, gather, heard
from assistant.hearing.endpoint import Endpoint
from assistant.hearing.port import SAMPLE_RATE, Ear, Samples
from assistant.session import Outcome
from grammar.automaton import Automaton, compile_language
from grammar.meanings import Miss, Reading
from grammar.understand import Context, understand

AHEAD = 0.3
"""Seconds of silence after which an utterance is decoded, in the hope that it has ended: the decoding then happens
while the rest of the tail is waited for."""

STEP = SAMPLE_RATE // 10
"""Samples after which it is looked whether an utterance has ended."""


class Listener(Protocol):
    """Who is told what was heard: a session, or whoever measures."""

    doubting: bool

    @property
    def context(self) -> Context:
        """What the next utterance is understood in."""

    def utterance(
        self, guesses: Sequence[str], engine: str = ..., audio: str | None = ..., evidence: Evidence | None = ...
    ) -> Outcome:
        """Take one utterance."""

    def settle(self) -> None:
        """Tidy up while nobody waits."""


def language(context: Context) -> Automaton:
    """What can be said in a context: sentences, and bare numbers while a question is open."""
    return compile_language("answer" if context.asking else "sentence", context.marking)


def listen(session: Listener, ear: Ear, blocks: Iterable[Samples]) -> Iterator[Outcome]:
    """Take a sound utterance by utterance, until the talk is over or the sound ends."""
    endpoint, ahead = Endpoint(), _Ahead(ear, session)
    for block in _in_steps(blocks):
        for samples in endpoint.feed(block):
            outcome = ahead.answered(samples, endpoint.last_pause)
            yield outcome
            session.settle()
            if outcome.over:
                return
        if endpoint.pause >= AHEAD * SAMPLE_RATE:
            endpoint.unfinished = ahead.unfinished(endpoint.so_far(), endpoint.pause)
    for samples in endpoint.finish():
        yield ahead.answered(samples, endpoint.last_pause)


def _in_steps(blocks: Iterable[Samples]) -> Iterator[Samples]:
    for block in blocks:
        for at in range(0, len(block), STEP):
            yield block[at : at + STEP]


def _may_go_on(reading: Reading) -> bool:
    """Whether a reading may lack its inches or its place: half of it would be another number."""
    return reading.station is None or reading.length.step == 1


class _Ahead:
    """What was heard in an utterance, perhaps before it was known to have ended."""

    def __init__(self, ear: Ear, session: Listener) -> None:
        self._ear = ear
        self._session = session
        self._speech = 0
        self._evidence = Evidence(((),), 0.0, 0.0)

    def unfinished(self, samples: Samples, pause: int) -> bool:
        """Whether words were heard that are no sentence as they stand, or a reading that may well go on."""
        self._decode(samples, pause)
        plain = self._evidence.listenings[0]
        if not plain:
            return False
        meaning = understand(plain[0][0], self._session.context)
        return isinstance(meaning, Miss) or (isinstance(meaning, Reading) and _may_go_on(meaning))

    def answered(self, samples: Samples, pause: int) -> Outcome:
        """The outcome of a whole utterance."""
        began = perf_counter()
        self._decode(samples, pause)
        self._speech = 0
        evidence = self._evidence
        spent = perf_counter() - began
        guesses = [text for text, _ in evidence.listenings[0]]
        return self._session.utterance(guesses, self._ear.name, evidence=evidence).timed("hear", spent)

    def _decode(self, samples: Samples, pause: int) -> None:
        """Decode an utterance that ends with `pause` samples of silence, unless nothing was said since."""
        speech = len(samples) - pause
        if speech == self._speech:
            return
        within = language(self._session.context)
        self._speech = speech
        if self._session.doubting:
            self._evidence = gather(self._ear, samples, within)
        else:
            self._evidence = Evidence((heard(self._ear, samples, within),), 0.0, 0.0)
