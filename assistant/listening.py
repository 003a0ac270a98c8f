"""From utterances of sound to outcomes: the ear hears within what can be said now."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from time import perf_counter

from assistant.hearing.endpoint import Endpoint
from assistant.hearing.port import SAMPLE_RATE, Ear, Hypothesis, Samples
from assistant.session import Outcome, Session
from grammar.automaton import Automaton, compile_language
from grammar.understand import Context

AHEAD = 0.3
"""Seconds of silence after which an utterance is decoded, in the hope that it has ended: the decoding then happens
while the rest of the tail is waited for."""


def language(context: Context) -> Automaton:
    """What can be said in a context: sentences, and bare numbers while a question is open."""
    return compile_language("answer" if context.asking else "sentence", context.marking)


def listen(session: Session, ear: Ear, blocks: Iterable[Samples]) -> Iterator[Outcome]:
    """Take a sound utterance by utterance, until the talk is over or the sound ends."""
    endpoint, ahead = Endpoint(), _Ahead(ear)
    for block in blocks:
        for samples in endpoint.feed(block):
            outcome = _answered(session, ear.name, ahead, samples, endpoint.last_pause)
            yield outcome
            session.settle()
            if outcome.over:
                return
        if endpoint.pause >= AHEAD * SAMPLE_RATE:
            ahead.decode(endpoint.so_far(), endpoint.pause, language(session.context))
    for samples in endpoint.finish():
        yield _answered(session, ear.name, ahead, samples, endpoint.last_pause)


class _Ahead:
    """What was heard in an utterance, perhaps before it was known to have ended."""

    def __init__(self, ear: Ear) -> None:
        self._ear = ear
        self._speech = 0
        self._guesses: tuple[Hypothesis, ...] = ()

    def decode(self, samples: Samples, pause: int, within: Automaton) -> None:
        """Decode an utterance that ends with `pause` samples of silence, unless nothing was said since."""
        speech = len(samples) - pause
        if speech != self._speech:
            self._speech, self._guesses = speech, self._ear.hear(samples, within)

    def ended(self, samples: Samples, pause: int, within: Automaton) -> tuple[Hypothesis, ...]:
        """What is heard in a whole utterance."""
        self.decode(samples, pause, within)
        self._speech = 0
        return self._guesses


def _answered(session: Session, engine: str, ahead: _Ahead, samples: Samples, pause: int) -> Outcome:
    began = perf_counter()
    guesses = [guess.text for guess in ahead.ended(samples, pause, language(session.context))]
    heard = perf_counter() - began
    return session.utterance(guesses, engine=engine, sound=samples).timed("hear", heard)
