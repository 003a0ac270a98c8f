"""Sentences said once each, with what was heard in them: what the doubt is calibrated on."""

from __future__ import annotations

import random
from collections.abc import Iterator, Sequence
from functools import cache
from pathlib import Path
from typing import Any

import numpy as np

from assistant.book.store import Book
from assistant.doubting.evidence import Evidence, Guesses, gather
from assistant.hearing.port import SAMPLE_RATE, Ear, Samples
from assistant.job.state import Job as State
from assistant.lab.measuring.clips import Clip, heard_in, strangers
from assistant.lab.trial import site, voices
from assistant.lab.trial.day import Plan
from assistant.lab.trial.soak import minutes
from assistant.lab.trial.truth import Job, Truth
from assistant.talk.listening import language, listen
from assistant.talk.session import Outcome, Session
from assistant.wording.said import Reply
from grammar.meanings import Miss
from grammar.quantities import Marking
from grammar.understand import Context, understand

SAID_AGAIN = 0.3
"""The share of sentences that are said twice, to learn what hearing the same again is worth."""

RATIOS = (site.CLEAN, 20.0, 20.0, 15.0, 10.0, 10.0, 5.0)


def collect(plan: Plan, ear: Ear, speech: Path | None) -> list[dict[str, Any]]:
    """Every sentence of a day, at a ratio drawn anew for each; where nothing was heard there is no evidence."""
    dice = random.Random(plan.seed)
    voice = voices.voice(plan.voice, plan.seed, speech)
    found = []
    for number, truth in enumerate(meant(plan)):
        ratio = dice.choice(RATIOS)
        air = site.Air(site.noise(plan.noise, speech), ratio, dice.randrange(10**6))
        air.speak(voice(truth.text))
        context = Context(truth.before.marking)
        evidence = _listened(air, ear, context)
        if evidence is None:
            continue
        row = {"number": number, "text": truth.text, "ratio": ratio, **vars(evidence), "second": None}
        if dice.random() < SAID_AGAIN:
            air.speak(voices.never_twice_the_same(voice(truth.text), dice))
            again = _listened(air, ear, context)
            row["second"] = None if again is None else vars(again)
        found.append(row)
    return found


ANSWERS = ("confirm", "never mind", "scratch that", "say again")
"""What is said to a question that is open, and short sentences."""

PLACES = ("one four", "four zero")
"""Answers that name one of two places."""

READINGS = {
    Marking.INCHES: ("four foot two inches", "four foot ten inches"),
    Marking.TENTHS: ("four point two zero", "four point two five"),
    Marking.METRIC: ("one point two seven", "one point two one"),
}
"""Answers that name one of two readings."""

RODS = {Marking.INCHES: ("rod in inches", "4 ft 2 in"), Marking.TENTHS: ("rod in tenths", "4.20 ft")}
USUAL_ROD = ("rod in metres", "1.270 m")


def asked(marking: Marking) -> State:
    """A job in which a baseline waits to be confirmed."""
    session = Session(Book.scratch(), doubting=False)
    rod, reading = RODS.get(marking, USUAL_ROD)
    for words in (rod, f"baseline {reading}"):
        session.utterance([words])
    return session.job


def asked_which(marking: Marking, readings: Sequence[str], places: Sequence[str]) -> State:
    """A job in which it was asked which of two readings was said, or at which of two places."""
    session = Session(Book.scratch())
    rod, reading = RODS.get(marking, USUAL_ROD)
    for words in (rod, f"baseline {reading} at station zero", "confirm"):
        session.utterance([words])
    session.utterance([f"reading {r} at station {p}" for r in readings for p in places], engine="two guesses")
    return session.job


def jobs(marking: Marking) -> dict[str, State]:
    """By the answer, the job in which it is given."""
    readings = READINGS[marking]
    return {
        **dict.fromkeys(ANSWERS, asked(marking)),
        **dict.fromkeys(PLACES, asked_which(marking, readings[:1], ("fourteen", "forty"))),
        **dict.fromkeys(readings, asked_which(marking, readings, ("twelve",))),
    }


def answers(plan: Plan, ear: Ear, speech: Path | None) -> list[dict[str, Any]]:
    """Answers to a question, said and heard."""
    dice = random.Random(plan.seed)
    voice = voices.voice(plan.voice, plan.seed, speech)
    context = Context(Marking(plan.marking), asking=True)
    found = []
    for text in (*ANSWERS, *PLACES, *READINGS[Marking(plan.marking)]):
        ratio = dice.choice(RATIOS)
        air = site.Air(site.noise(plan.noise, speech), ratio, dice.randrange(10**6))
        air.speak(voice(text))
        evidence = _listened(air, ear, context)
        if evidence is not None:
            found.append({"text": text, "ratio": ratio, **vars(evidence)})
    return found


def answered(day: dict[str, Any], plan: Plan) -> Iterator[tuple[Truth, Evidence, float, None]]:
    """The answers of a day, as `replayed` gives its sentences."""
    by_text = jobs(Marking(plan.marking))
    for row in day.get("answers", []):
        job = by_text[row["text"]]
        meaning = understand(row["text"], Context(job.marking, asking=True))
        assert not isinstance(meaning, Miss)
        truth = Truth("answer", row["text"], meaning, None, confirmed=False, answers=0, before=job)
        yield truth, evidence_of(row), row["ratio"], None


PIECES, TALKS = 10, 4
"""Pieces of noise, and of talk to somebody else, that are given to the ear in a day, with a question open or not."""

SHORTEST, LONGEST = 0.4, 2.5
"""Seconds of a piece of noise."""


def noises(plan: Plan, ear: Ear, speech: Path | None) -> list[dict[str, Any]]:
    """What is heard where nobody speaks to Rodside.

    First a minute of noise, through the endpoint detector; then pieces of noise and of other talk past it, as if it had
    failed, both with a question open and without.
    """
    recorder = _Recorder(Context(Marking(plan.marking)))
    for _ in listen(recorder, ear, minutes(1 / 60, speech, plan.seed)):
        pass
    found = [{**vars(evidence), "asking": False} for evidence in recorder.every if evidence.listenings[0]]
    dice, minute = random.Random(plan.seed), np.concatenate(list(minutes(1 / 60, speech, plan.seed + 1)))
    for asking in (False, True):
        context = Context(Marking(plan.marking), asking=asking)
        for piece in (*_pieces(minute, dice), *_talks(speech, dice)):
            plain = ear.hear(piece, language(context))
            if plain and not isinstance(understand(plain[0].text, context), Miss):
                evidence = gather(ear, piece, language(context), plain, meant=True)
                found.append({**vars(evidence), "asking": asking})
    return found


def _pieces(minute: Samples, dice: random.Random) -> Iterator[Samples]:
    for _ in range(PIECES):
        length = int(dice.uniform(SHORTEST, LONGEST) * SAMPLE_RATE)
        at = dice.randrange(len(minute) - length)
        yield minute[at : at + length]


def _talks(speech: Path | None, dice: random.Random) -> Iterator[Samples]:
    """Recordings of people who say something else."""
    if speech is not None:
        clips = _other_talk(speech)
        yield from (heard_in(clip, None, 0.0, 0) for clip in dice.sample(clips, min(TALKS, len(clips))))


@cache
def _other_talk(speech: Path) -> list[Clip]:
    return strangers(speech, language(Context(Marking.TENTHS)).words, 500)


def where(day: dict[str, Any], row: dict[str, Any]) -> State:
    """The job in which a noise was heard: with a question open, or with nothing in it."""
    marking = Marking(day["marking"])
    return asked(marking) if row["asking"] else State(marking=marking)


class _Recorder:
    """Keeps the evidence of every utterance."""

    doubting = True

    def __init__(self, context: Context) -> None:
        self.context = context
        self.every: list[Evidence] = []

    def utterance(
        self, guesses: Sequence[str], engine: str = "", sound: Samples | None = None, evidence: Evidence | None = None
    ) -> Outcome:
        if evidence is not None:
            self.every.append(evidence)
        return Outcome("", Miss("nothing", ""), Reply("", ""), (), over=False)

    def settle(self) -> None: ...


def _listened(air: site.Air, ear: Ear, context: Context) -> Evidence | None:
    """What the real chain makes of what is in the air."""
    recorder = _Recorder(context)
    for _ in listen(recorder, ear, air):
        break
    return recorder.every[0] if recorder.every else None


def meant(plan: Plan) -> Iterator[Truth]:
    """The sentences of a plan's day: the same every time."""
    return Job(plan.seed, Marking(plan.marking), digit_by_digit=plan.voice == "people's digits").day()


def replayed(day: dict[str, Any], plan: Plan) -> Iterator[tuple[Truth, Evidence, float, Evidence | None]]:
    """What was meant and heard, the ratio, and what was heard the second time; without days that are not the same."""
    by_number = {row["number"]: row for row in day["evidence"]}
    for number, truth in enumerate(meant(plan)):
        row = by_number.get(number)
        if row is not None and row["text"] == truth.text:
            second = row.get("second")
            yield truth, evidence_of(row), row["ratio"], None if second is None else evidence_of(second)


def evidence_of(row: dict[str, Any]) -> Evidence:
    """Evidence as it was kept."""
    return Evidence(
        tuple(map(_guesses, row["listenings"])),
        row["seconds"],
        row["above_noise"],
        row["over"],
        None if row["witness"] is None else _guesses(row["witness"]),
        row.get("hurried", False),
    )


def _guesses(row: list[list[Any]]) -> Guesses:
    return tuple((text, score) for text, score in row)
