"""The one place that decides: write, ask, or have it said again."""

from __future__ import annotations

import tomllib
from dataclasses import dataclass
from enum import Enum
from functools import cache
from importlib.resources import files
from math import exp, inf, log
from typing import Any

from assistant.book.exact_json import kind_of
from assistant.doubting import confusions
from assistant.doubting.candidates import Candidate, candidates, understood
from assistant.doubting.evidence import Evidence, Guesses, favoured
from assistant.job import expect, kinds
from assistant.job.records import same
from assistant.job.state import Job
from assistant.wording.asked import as_asked, can_be_named, settled_by
from grammar.meanings import Cancel, Meaning, Miss, Reading, Scratch
from grammar.understand import Context


class Decision(Enum):
    """What to do with what was heard."""

    WRITE = "write"
    ASK = "ask"
    AGAIN = "again"


@dataclass(frozen=True)
class Verdict:
    """The decision about `meaning`, heard as `text`; `wrong` is the probability that it is not what was said."""

    decision: Decision
    text: str
    meaning: Meaning | Miss
    rivals: tuple[Meaning, ...] = ()
    wrong: float = 0.0


FEATURES = tuple("one others mean least over unlike confusable short answer again".split())
"""What the probability is made of: a constant; the logarithm of the probability that Bayes' rule leaves to other
meanings; the lead of the best guess over the next with another meaning, of 10, on the average of all listenings, and
the square of the least of all, the witness's too, none below zero; the plain score over that of any sounds, and how
much that is less than of any speech, for each second, of 20 and 5; how often the words are heard for others, added up;
one through the number of words, as noise is taken for single words; whether it answers a question; whether it was
heard the same when said before, and now by most."""

MOST_MARGIN, USUAL_OVER = 10.0, 20.0
LEAST_OVER, USUAL_UNLIKE = 2.0, 5.0

ECHOED = 4.0
"""The logarithm of the odds that who is asked which of two was said names it in the words of the question, to any other
words. Our own choice."""

ANYTHING_ELSE = "anything else"
"""The kind of whatever has no cost of its own: what is written or answered at once."""

FAINTEST = 0.001
"""Probabilities are not believed beyond this."""


@cache
def weights() -> dict[str, Any]:
    """The calibrated weights, by feature, and the temperature of the scores."""
    return tomllib.loads(files("assistant.doubting").joinpath("weights.toml").read_text("utf-8"))


@cache
def costs() -> dict[str, Any]:
    """What a question and a mistake cost, in seconds of work."""
    return tomllib.loads(files("assistant.doubting").joinpath("costs.toml").read_text("utf-8"))


def threshold(meaning: Meaning, job: Job, above_noise: float = inf) -> float:
    """The probability of being wrong from which asking is cheaper than the mistake.

    `above_noise` is by how many decibels the speech was over the noise.
    """
    kind = _kind(meaning, job)
    seconds = costs()["mistake"][kind]
    if kind == ANYTHING_ELSE:
        seconds *= _dearer_in_noise(above_noise)
    return float(min(0.5, costs()["asking"] / seconds))


def _kind(meaning: Meaning, job: Job) -> str:
    """The kind of mistake that it would be to take this for what was said."""
    if job.question is not None and isinstance(meaning, Scratch):
        return kind_of(Cancel)  # lets the question go, and touches nothing that is written
    if job.question is None and isinstance(meaning, Cancel):
        return ANYTHING_ELSE  # there is nothing to let go: mostly it was noise
    if isinstance(meaning, kinds.TO_CONFIRM):
        return "what is confirmed"
    if expect.unexpected(job, meaning) is not None:
        return "far from expected"
    kind = kind_of(type(meaning))
    return kind if kind in costs()["mistake"] else ANYTHING_ELSE


def _dearer_in_noise(above_noise: float) -> float:
    """How many times as much a mistake costs in such noise."""
    noise = costs()["in_noise"]
    share = (noise["quiet"] - above_noise) / (noise["quiet"] - noise["loud"])
    return float(1 + (noise["times"] - 1) * min(1.0, max(0.0, share)))


NAMED_OTHER = 0.05
"""The share at least of misheard answers that name the very other one of two: of 55 answers of "one four" or "four
zero", clean to 5 dB, two were misheard and none so."""


def share_that_harms(found: list[Candidate], job: Job) -> float:
    """Of the ways in which the first candidate can be wrong, the share that does harm.

    Where it names one of several that were asked about, only another that names another does; else all do.
    """
    question = job.question
    named = None if question is None or question.kind != "which" else settled_by(question, found[0].meaning)
    if question is None or named is None:
        return 1.0
    others = sum(other.probability for other in found[1:])
    naming = [other for other in found[1:] if settled_by(question, other.meaning) not in (None, named)]
    return min(1.0, NAMED_OTHER + sum(other.probability for other in naming) / max(others, FAINTEST))


def expected(evidence: Evidence, job: Job) -> Evidence:
    """What was heard, with the odds for an answer in the words of the question."""
    if job.question is None or job.question.kind != "which":
        return evidence
    return favoured(evidence, as_asked(job.question), ECHOED)


def features(
    evidence: Evidence, found: list[Candidate], context: Context, before: Meaning | None = None
) -> tuple[float, ...]:
    """The features of the first candidate, in the order of `FEATURES`."""
    best = found[0]
    margins = [_margin(listening, best.meaning, context) / MOST_MARGIN for listening in evidence.listenings]
    witnessed = [] if evidence.witness is None else [_margin(evidence.witness, best.meaning, context) / MOST_MARGIN]
    mean = sum(margins) / len(margins)
    words = best.text.split()
    return (
        1.0,
        log(max(FAINTEST, 1 - best.probability)),
        mean,
        max(0.0, min((*margins, *witnessed))) ** 2,
        evidence.over_a_second / USUAL_OVER,
        max(0.0, LEAST_OVER - evidence.over_a_second) / USUAL_UNLIKE,
        sum(sum(confusions.table().get(word, {}).values()) for word in words),
        1 / len(words),
        float(context.asking),
        float(before is not None and mean > 0 and same(before, best.meaning)),
    )


def _margin(listening: Guesses, meaning: Meaning, context: Context) -> float:
    """By how much a listening preferred `meaning` to any other; below zero where it did not."""
    scores: dict[bool, float] = {}
    for text, score in listening:
        mine = same(understood(text, context), meaning)
        scores[mine] = max(score, scores.get(mine, score))
    if True not in scores:
        return -MOST_MARGIN
    other = scores.get(False, scores[True] - MOST_MARGIN)
    return max(-MOST_MARGIN, min(MOST_MARGIN, scores[True] - other))


def probability_wrong(values: tuple[float, ...]) -> float:
    """The calibrated probability that the first candidate is not what was said."""
    by_name = weights()["weight"]
    total = sum(by_name.get(name, 0.0) * value for name, value in zip(FEATURES, values, strict=True))
    return 1 / (1 + exp(-total))


def judge(evidence: Evidence, context: Context, job: Job, before: Meaning | None = None) -> Verdict:
    """Decide about an utterance. `before` is what was last heard and not believed."""
    evidence = expected(evidence, job)
    text = evidence.plain
    meaning = understood(text, context)
    if isinstance(meaning, Miss):
        return Verdict(Decision.WRITE, text, meaning)
    if evidence.hurried:
        return Verdict(Decision.AGAIN, text, meaning, wrong=1.0)
    found = candidates(evidence, context, job, weights()["temperature"], again=before is not None)
    best = found[0]
    wrong = probability_wrong(features(evidence, found, context, before))
    if wrong * share_that_harms(found, job) <= threshold(best.meaning, job, evidence.above_noise):
        return Verdict(Decision.WRITE, best.text, best.meaning, wrong=wrong)
    rivals = _rivals(found, job)
    if rivals and job.question is None:
        return Verdict(Decision.ASK, best.text, best.meaning, rivals, wrong)
    return Verdict(Decision.AGAIN, best.text, best.meaning, wrong=wrong)


LIKELY = 0.005
"""The probability from which another candidate is worth being named in a question. Our own choice."""

MOST_RIVALS = 1


def _rivals(found: list[Candidate], job: Job) -> tuple[Meaning, ...]:
    """Other meanings that the person can be asked about: of the same kind, told apart by a word, and possible here."""
    best = found[0].meaning
    others = (c.meaning for c in found[1:] if c.probability >= LIKELY and type(c.meaning) is type(best))
    said_whole = isinstance(best, kinds.SETTING_UP | Reading)  # the answer can be the sentence itself
    able = [o for o in others if (said_whole or can_be_named((best, o))) and expect.plausible(job, o, best)]
    return tuple(able[:MOST_RIVALS])
