"""The doubt calibrated: weights by logistic regression, the table of confusions, and the reliability curve."""

from __future__ import annotations

from collections import Counter, defaultdict
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from datetime import date
from itertools import pairwise
from pathlib import Path

import numpy as np
import numpy.typing as npt

import assistant.doubting
from assistant.doubting import confusions, judge
from assistant.doubting.candidates import candidates
from assistant.doubting.evidence import Evidence
from assistant.job.records import same
from assistant.job.state import Job
from assistant.lab.trial.tally import shown_ratio
from assistant.lab.trial.truth import Truth
from grammar.meanings import Meaning, Miss
from grammar.understand import Context, understand

Matrix = npt.NDArray[np.float64]

PULL = 0.1
"""The strength of the pull of weights to zero (ridge): a few dozen errors cannot carry ten free weights."""

TEMPERATURE = 0.5
"""Of the scores; at 1 they are taken as they are. Of 169 days the loss held out was 0.0363, at 0.25 and at 1 0.0373 and
0.0364; at 1 a tenth more was asked about."""

FOLDS = 5
NOISE_ALONE = -99.0
"""The ratio, in decibels, of no speech at all."""

BINS = (0.0, 0.002, 0.005, 0.01, 0.03, 0.1, 0.3, 0.6, 1.0)


@dataclass(frozen=True)
class Said:
    """One sentence: the day it belongs to, what was meant, what was heard."""

    day: int
    truth: Truth
    evidence: Evidence
    ratio: float
    second: Evidence | None = None


@dataclass(frozen=True)
class Fitted:
    """Weights by feature; probabilities held out, whether each was wrong, and the ratio."""

    weight: dict[str, float]
    held_out: Matrix
    wrong: Matrix
    ratios: Matrix
    limits: Matrix
    """The probability of being wrong up to which each is believed."""
    loss: float


SHRUNK = 50
"""Times that each word is taken as heard right beside those counted: two mistakes in 18 tell little."""


Confusions = dict[str, dict[str, float]]
"""By the number word heard, how often another was said."""


def confused(said: Iterable[Said], *, guessed: bool = True) -> Confusions:
    """From sentences of which one word in all was misheard; without those where what was said was `guessed` too."""
    counts: dict[str, Counter[str]] = defaultdict(Counter)
    for one in said:
        if not guessed and one.truth.text != one.evidence.plain and one.truth.text in _guesses(one.evidence):
            continue
        for heard, meant in _aligned(one.evidence.plain.split(), one.truth.text.split()):
            if confusions.is_number(heard) and confusions.is_number(meant):
                counts[heard][meant] += 1
    found: Confusions = {}
    for heard, meant_words in sorted(counts.items()):
        total = sum(meant_words.values()) + SHRUNK
        row = {meant: round(n / total, 4) for meant, n in meant_words.most_common() if meant != heard}
        if row:
            found[heard] = row
    return found


def _guesses(evidence: Evidence) -> set[str]:
    return {text for listening in evidence.all_heard for text, _ in listening}


def _aligned(heard: Sequence[str], meant: Sequence[str]) -> Iterator[tuple[str, str]]:
    """Pairs of words in the same place, where the sentences are as long; else those of their common ends."""
    if len(heard) == len(meant):
        yield from zip(heard, meant, strict=True)
        return
    shorter = min(len(heard), len(meant))
    same_start = next((n for n in range(shorter) if heard[n] != meant[n]), shorter)
    yield from zip(heard[:same_start], meant[:same_start], strict=True)


Noise = tuple[int, Evidence, Job]
"""The day, what was heard where nobody spoke to Rodside, and in which job: whatever was heard, it was wrong."""


def fit(said: Sequence[Said], noises: Sequence[Noise] = ()) -> Fitted:
    """The best weights, with the probabilities that days left out would have got."""
    rows, wrong, days, ratios, limits = [], [], [], [], []
    every: list[tuple[int, Evidence, Job, Meaning | None, float]] = [
        *((one.day, one.evidence, one.truth.before, one.truth.meaning, one.ratio) for one in said),
        *((number, evidence, job, None, NOISE_ALONE) for number, evidence, job in noises),
    ]
    for number, heard, job, meant, ratio in every:
        context, evidence = context_of(job), judge.expected(heard, job)
        found = candidates(evidence, context, job, TEMPERATURE)
        if found and has_meaning(evidence, context):
            rows.append(judge.features(evidence, found, context))
            wrong.append(float(not same(found[0].meaning, meant)))
            days.append(number)
            ratios.append(ratio)
            limit = judge.threshold(found[0].meaning, job, evidence.above_noise)
            limits.append(limit / judge.share_that_harms(found, job))
    x, y, day = np.array(rows), np.array(wrong), np.array(days)
    held_out = np.zeros(len(y))
    for fold in range(FOLDS):
        out = day % FOLDS == fold
        if out.any() and (~out).any():
            held_out[out] = _chance(x[out], regressed(x[~out], y[~out]))
    sure = np.clip(held_out, 1e-6, 1 - 1e-6)
    loss = float(-np.mean(y * np.log(sure) + (1 - y) * np.log(1 - sure)))
    weight = dict(zip(judge.FEATURES, (round(float(w), 3) for w in regressed(x, y)), strict=True))
    weight["again"] = round(_worth_of_hearing_again(said, regressed(x, y)), 3)
    return Fitted(weight, held_out, y, np.array(ratios), np.array(limits), loss)


DOUBTED = 0.004
"""The probability of being wrong from which, in calibrating, a sentence is taken as said again."""


def _worth_of_hearing_again(said: Sequence[Said], weight: Matrix) -> float:
    """The weight of having heard the same when it was said before and not believed."""
    known, wrong = [], []
    for one in said:
        context, job = context_of(one.truth.before), one.truth.before
        first = candidates(one.evidence, context, job, TEMPERATURE)
        found = candidates(one.second, context, job, TEMPERATURE, again=True) if one.second is not None else []
        if not first or not found or one.second is None or not has_meaning(one.second, context):
            continue
        doubt = _chance(np.array([judge.features(one.evidence, first, context)]), weight)[0]
        values = judge.features(one.second, found, context, first[0].meaning)
        if doubt > DOUBTED and values[-1]:
            known.append(float(np.dot(values[:-1], weight[:-1])))
            wrong.append(float(not same(found[0].meaning, one.truth.meaning)))
    if len(known) < LEAST_PAIRS:
        return 0.0
    rest, y, extra = np.array(known), np.array(wrong), 0.0
    for _ in range(50):
        chance = 1 / (1 + np.exp(-np.clip(rest + extra, -30, 30)))
        extra -= float((np.sum(chance - y) + PULL * extra) / (np.sum(chance * (1 - chance)) + PULL))
    return min(0.0, extra)


LEAST_PAIRS = 30
"""Sentences said twice without which nothing is learnt of them."""


def context_of(job: Job) -> Context:
    """What an utterance is understood in, as the job stands."""
    return Context(job.marking, asking=job.question is not None)


def has_meaning(evidence: Evidence, context: Context) -> bool:
    """Whether the plain listening was understood: else there is nothing to doubt."""
    return not isinstance(understand(evidence.plain, context), Miss)


SPEAKS_FOR = frozenset("mean least over again".split())
SPEAKS_AGAINST = frozenset("others unlike confusable short".split())
"""Features of which more never makes it likelier, or never less likely, that it was misheard."""

SENSE = np.array([(name in SPEAKS_AGAINST) - (name in SPEAKS_FOR) for name in judge.FEATURES], float)


def regressed(x: Matrix, y: Matrix, sense: Matrix = SENSE) -> Matrix:
    """Weights of a logistic regression with a ridge, none of them against sense: the worst of those are left out."""
    used = np.ones(x.shape[1], bool)
    while True:
        weight = np.zeros(x.shape[1])
        weight[used] = _newton(x[:, used], y)
        against = weight * sense
        if against.min() >= 0:
            return weight
        used[against.argmin()] = False


def _newton(x: Matrix, y: Matrix) -> Matrix:
    """Weights of a logistic regression with a ridge, by Newton's steps. The first feature is the constant."""
    weight = np.zeros(x.shape[1])
    pull = np.full(x.shape[1], PULL)
    pull[0] = 1e-6
    for _ in range(50):
        chance = _chance(x, weight)
        slope = x.T @ (chance - y) + pull * weight
        curve = (x * (chance * (1 - chance))[:, None]).T @ x + np.diag(pull + 1e-9)
        step = np.linalg.solve(curve, slope)
        weight = weight - step
        if np.abs(step).max() < 1e-8:
            break
    return weight


def _chance(x: Matrix, weight: Matrix) -> Matrix:
    return np.asarray(1 / (1 + np.exp(-np.clip(x @ weight, -30, 30))))


def reliability(fitted: Fitted) -> Iterator[str]:
    """The curve: of the sentences said to be wrong with such a probability, how many were; for days left out."""
    yield f"{'said to be wrong':>20} {'sentences':>10} {'mean said':>10} {'were wrong':>11}"
    for low, high in pairwise(BINS):
        inside = (fitted.held_out >= low) & (fitted.held_out < high + (high == 1))
        if inside.any():
            said, were = fitted.held_out[inside].mean(), fitted.wrong[inside].mean()
            yield f"{f'{low:.3f} to {high:.3f}':>20} {int(inside.sum()):>10} {said:>10.4f} {were:>11.4f}"
    yield f"{'SNR':>8} {'sentences':>10} {'believed':>9} {'wrong of them':>14} {'wrong without doubt':>20}"
    for ratio in sorted(set(fitted.ratios), reverse=True):
        here = fitted.ratios == ratio
        kept = here & (fitted.held_out <= fitted.limits)
        name = "noise" if ratio == NOISE_ALONE else shown_ratio(ratio)
        wrong, all_wrong = int(fitted.wrong[kept].sum()), int(fitted.wrong[here].sum())
        yield f"{name:>8} {int(here.sum()):>10} {kept[here].mean():>9.1%} {wrong:>14} {all_wrong:>20}"


def write(fitted: Fitted, heard: Confusions, unguessed: Confusions) -> None:
    """Put the weights and the tables where the doubt reads them."""
    folder = Path(assistant.doubting.__file__).parent
    head = f"# Made by `rodside trial --calibrate` on {date.today()}, from {len(fitted.wrong)} sentences"
    head += f", {int(fitted.wrong.sum())} of them misheard.\n"
    lines = [f"temperature = {TEMPERATURE}\n", "[weight]", *(f"{n} = {w}" for n, w in fitted.weight.items())]
    (folder / "weights.toml").write_text(head + "\n".join(lines) + "\n")
    (folder / "confusions.toml").write_text(
        f"{head}# By the word heard: what was said instead, and how often.\n[heard]\n{_rows(heard)}\n"
        f"# The same, where what was said was not even among the guesses.\n[unguessed]\n{_rows(unguessed)}"
    )
    for cached in (judge.weights, confusions.table, confusions.unguessed):
        cached.cache_clear()


def _rows(table: Confusions) -> str:
    return "".join(
        f"{heard} = {{ {', '.join(f'{word} = {chance}' for word, chance in said.items())} }}\n"
        for heard, said in table.items()
    )
