"""The meanings that a sound can have had, each with its probability: Bayes' rule over what was heard and the job."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from functools import lru_cache
from math import exp

from assistant.doubting import confusions, wording
from assistant.doubting.evidence import Evidence, Guesses
from assistant.doubting.prior import log_prior, usual
from assistant.job.records import same
from assistant.job.state import Job
from grammar.meanings import Meaning, Miss
from grammar.understand import Context, understand

UNHEARD = 0.03
"""The chance that something else was said, ordinary in this job, of which nothing was heard. Our own choice."""


HARDLY_HEARD = 0.01
"""The share of what was heard from which it is worth asking what else its words could have been. Our own choice."""

understood = lru_cache(maxsize=1000)(understand)
"""What words mean: the listenings of an utterance have most of their guesses in common."""


@dataclass(frozen=True)
class Candidate:
    """A meaning, the likeliest words for it, its share of what was heard, and its probability in this job."""

    meaning: Meaning
    text: str
    share: float
    probability: float


def candidates(
    evidence: Evidence, context: Context, job: Job, temperature: float, *, again: bool = False
) -> list[Candidate]:
    """What can have been said: first what was heard most, then the rest, likeliest first.

    None where nothing that was heard has a meaning. What was only expected never takes the place of what was heard.
    Said `again` numbers may be said by their digits, as was asked for, whatever the manner before.
    """
    shares: dict[Meaning, float] = {}
    texts: dict[Meaning, str] = {}
    for listening in evidence.all_heard:
        for text, share in _shares(listening, temperature):
            meaning = understood(text, context)
            if not isinstance(meaning, Miss):
                meaning = _known(meaning, shares)
                shares[meaning] = shares.get(meaning, 0.0) + share / len(evidence.all_heard)
                texts.setdefault(meaning, text)
    if not shares:
        return []
    weights = dict(shares)
    for heard, share in list(shares.items()):
        if share < HARDLY_HEARD:
            continue
        for text, chance in confusions.variants(texts[heard]):
            other = understood(text, context)
            if type(other) is type(heard) and not isinstance(other, Miss):
                other = _known(other, weights)
                if other != heard:
                    weights[other] = weights.get(other, 0.0) + share * chance
                    texts.setdefault(other, text)
    used = wording.used_lately(job) - (wording.BOTH if again else frozenset())
    likely = {m: weight * exp(log_prior(job, m)) * wording.share(texts[m], used) for m, weight in weights.items()}
    total = sum(likely.values()) + UNHEARD * sum(shares.values()) * exp(usual(job))
    found = [Candidate(m, texts[m], shares.get(m, 0.0), weight / total) for m, weight in likely.items()]
    heard_most = max(found, key=lambda c: (c.share, c.probability))
    return [heard_most, *sorted((c for c in found if c is not heard_most), key=lambda c: -c.probability)]


def _shares(listening: Guesses, temperature: float) -> Iterable[tuple[str, float]]:
    if not listening:
        return []
    best = max(score for _, score in listening)
    weights = [(text, exp((score - best) / temperature)) for text, score in listening]
    total = sum(weight for _, weight in weights)
    return [(text, weight / total) for text, weight in weights]


def _known(meaning: Meaning, among: Iterable[Meaning]) -> Meaning:
    """The same amounts said in another way are the same meaning."""
    return next((known for known in among if same(known, meaning)), meaning)
