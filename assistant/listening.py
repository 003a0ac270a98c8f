"""From utterances of sound to outcomes: the ear hears within what can be said now."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from time import perf_counter

from assistant.hearing.endpoint import utterances
from assistant.hearing.port import Ear, Samples
from assistant.session import Outcome, Session
from grammar.automaton import Automaton, compile_language
from grammar.understand import Context


def language(context: Context) -> Automaton:
    """What can be said in a context: sentences, and bare numbers while a question is open."""
    return compile_language("answer" if context.asking else "sentence", context.marking)


def listen(session: Session, ear: Ear, blocks: Iterable[Samples]) -> Iterator[Outcome]:
    """Take a sound utterance by utterance, until the talk is over or the sound ends."""
    for samples in utterances(blocks):
        began = perf_counter()
        guesses = [guess.text for guess in ear.hear(samples, language(session.context))]
        heard = perf_counter() - began
        outcome = session.utterance(guesses, engine=ear.name).timed("hear", heard)
        yield outcome
        if outcome.over:
            return
