"""What was meant: random but plausible jobs, sentence by sentence, with what a perfect listener makes of each."""

from __future__ import annotations

import copy
import random
import re
import tomllib
from collections.abc import Callable, Iterator
from dataclasses import dataclass, replace
from fractions import Fraction
from functools import cache
from importlib.resources import files
from typing import Any

from assistant.book.entries import Row
from assistant.book.exact_json import encode_meaning
from assistant.book.store import Book
from assistant.conversation import respond
from assistant.job import expect
from assistant.job.state import Job as State
from assistant.lab.trial.amounts import Amounts
from assistant.talk.session import Outcome, Session
from grammar.meanings import Answer, Baseline, CheckSetUp, Meaning, Miss, Reading
from grammar.quantities import Marking
from grammar.understand import Context, understand

ABOUT_QUESTIONS = ("question", "dismissed", "place", "opened")
"""Kinds of entry that hold no number of the job."""


ODD = 0.1
"""The share of steps to the next place that are of no usual length. Our own choice."""


@dataclass(frozen=True)
class Truth:
    """One thing that the person wants. `row` is what ought to stand in the book, if anything.

    `confirmed` tells that even a perfect listener asks first; `answers` are the words of its replies.
    """

    kind: str
    text: str
    meaning: Meaning
    row: Row | None
    confirmed: bool
    answers: int
    before: State
    """The job as it stood before."""


@cache
def data() -> dict[str, dict[str, list[str]]]:
    """The sentences and their groups."""
    return tomllib.loads(files("assistant.lab.trial").joinpath("sentences.toml").read_text("utf-8"))


@cache
def group_of(kind: str) -> str:
    """The group that a kind is counted in."""
    return next(group for group, kinds in data()["group"].items() if kind in kinds)


class Job:
    """A job as it was meant: it draws sentences, and keeps the book that a perfect listener would."""

    def __init__(self, seed: int, marking: Marking, digit_by_digit: bool = False) -> None:
        self.dice = random.Random(seed)
        self._odd_dice = random.Random(f"{seed} odd")
        self.amounts = Amounts(marking, self.dice, digit_by_digit)
        self.marking = marking
        self.listener = Session(Book.scratch(), doubting=False)
        self.listener.begin()
        self.place = 0
        self._metric = marking is Marking.METRIC

    def day(self) -> Iterator[Truth]:
        """Sentences until the day is over; what depends on the job fits what stands in it."""
        flow = self.dice.choice((self._drain, self._drain, self._levels, self._flatwork))
        for kind in flow():
            meant = self._meant(kind)
            if meant is not None:
                yield meant

    def _drain(self) -> Iterator[str]:
        yield "rod"
        yield from self._some("rod length", "pace", "surprise", chance=0.25)
        yield "baseline"
        yield "line"
        yield from self._some("tolerance", "accuracy", "turn check", "below", chance=0.4)
        yield from self._readings(12)
        yield from self._some("check", chance=0.8)

    def _levels(self) -> Iterator[str]:
        yield "rod"
        yield "benchmark"
        yield "backsight"
        for _ in range(2):
            yield from self._readings(4)
            yield "foresight"
            yield "backsight"
        yield from self._readings(2)
        yield "close"

    def _flatwork(self) -> Iterator[str]:
        yield "rod"
        yield "baseline alone"
        yield from self._some("plane", "tolerance", "diagonal", "concrete", "leg", chance=0.7)
        for _ in range(8):
            yield "reading"
            yield from self._some("reading here", chance=0.3)
            yield from self._some("diagonal", "leg", "to go", "concrete", chance=0.1)
        yield "check"

    def _readings(self, count: int) -> Iterator[str]:
        for _ in range(count):
            yield from self._some("grade rod", chance=0.2)
            yield "reading"
            yield from self._some("reading here", "to go", chance=0.1)
            yield from self._some("fall", "slope", "paces", "slope got", "read back", "status", chance=0.06)
            yield from self._some("convert slope", "convert length", "scratch", chance=0.06)

    def _some(self, *kinds: str, chance: float) -> Iterator[str]:
        for kind in kinds:
            if self.dice.random() < chance:
                yield kind

    def _meant(self, kind: str) -> Truth | None:
        """One sentence, taken by the perfect listener; none where it makes no sense as the job stands."""
        if kind in ("reading", "grade rod", "baseline"):
            self._move_on(kind)
        text = self.dice.choice(data()["said"][kind])
        for amount_in_words in (self.amounts.reading, self.amounts.whole_reading):
            filled = self._filled(kind, text, amount_in_words)
            meaning = understand(filled, Context(self.listener.job.marking))
            if not isinstance(meaning, Miss):
                return self._taken(kind, filled, meaning)
        return None

    def _move_on(self, kind: str) -> None:
        if kind == "baseline":
            self.place = 0 if self.dice.random() < 0.7 else self.dice.choice((10, 15, 50))
        elif kind == "reading":
            step = self.dice.choice((5, 10, 10, 20)) if not self._metric else self.dice.choice((2, 5, 5))
            self.place += self._odd_dice.randint(1, 19) if self._odd_dice.random() < ODD else step

    def _filled(self, kind: str, text: str, amount_in_words: Callable[[Fraction], str]) -> str:
        read = self._reading(kind)

        def words(slot: re.Match[str]) -> str:
            match slot[1]:
                case "marking":
                    return self._marking()
                case "station":
                    return self.amounts.station(self.place)
                case "reading":
                    return amount_in_words(
                        read + Fraction(self.dice.choice((0, 0, 0, 1, -1)), 100) * (kind != "reading")
                    )
                case name:
                    return self.amounts.slot(name)

        return re.sub(r"\{([a-z ]+)\}", words, text)

    def _marking(self) -> str:
        return {
            Marking.INCHES: self.dice.choice(("feet and inches", "inches")),
            Marking.TENTHS: self.dice.choice(("tenths", "tenths of a foot", "feet and tenths")),
            Marking.METRIC: "meters",
        }[self.marking]

    def _reading(self, kind: str) -> Fraction:
        """What stands on the rod, in the rod's unit."""
        unit = Fraction(381, 1250) if self._metric else Fraction(1)
        if kind == "check" and isinstance(self.listener.job.baseline, Baseline):
            return self.listener.job.baseline.reading.amount
        on_grade = None
        if kind in ("reading", "reading here"):
            place = understand(f"what should i read at {self.amounts.station(self.place)}", Context(self.marking))
            station = getattr(place, "station", None)
            on_grade = expect.grade_rod(self.listener.job, station)
        if on_grade is None or not 0 < on_grade < 16:
            on_grade = Fraction(self.dice.randint(200, 900), 100)
        off = Fraction(round(self.dice.gauss(0, 12)), 100)
        return max(Fraction(1, 2), on_grade + off) * unit

    def _taken(self, kind: str, text: str, meaning: Meaning) -> Truth | None:
        before = copy.copy(self.listener.job)
        first = self.listener.utterance([text])
        outcomes = [first]
        if self.listener.job.question is not None:
            outcomes.append(self.listener.utterance(["confirm"]))
        rows = [row for outcome in outcomes for row in outcome.rows if row.kind not in ABOUT_QUESTIONS]
        if not rows and _ought_to_write(kind):
            return None
        answers = sum(len(outcome.reply.spoken.split()) for outcome in outcomes)
        return Truth(kind, text, meaning, rows[0] if rows else None, len(outcomes) > 1, answers, before)


def _ought_to_write(kind: str) -> bool:
    return group_of(kind) != "questions"


def same(one: Any, other: Any) -> bool:
    """Whether two values of JSON are the same amounts: how finely they were said, and in which unit, is no matter."""
    if isinstance(one, dict) and isinstance(other, dict):
        if "step" in one and "step" in other:
            return _feet(one) == _feet(other)
        return one.keys() == other.keys() and all(same(one[name], other[name]) for name in one)
    if isinstance(one, list) and isinstance(other, list):
        return len(one) == len(other) and all(map(same, one, other))
    return bool(one == other)


def _feet(length: dict[str, str]) -> Fraction:
    return Fraction(length["amount"]) / (Fraction(381, 1250) if length["unit"] == "m" else 1)


SAID = {"reading": ("reading", "station"), "check": ("reading",), "scratch": ()}
"""What of an entry was said; of other kinds, all that is in the meaning."""


def as_meant(row: Row, truth: Truth) -> bool:
    """Whether an entry holds what was said. A place that was not said does not count."""
    if truth.row is None or row.kind != truth.row.kind:
        return False
    names = SAID.get(row.kind, tuple(truth.meaning.__dataclass_fields__))
    if isinstance(truth.meaning, Reading) and truth.meaning.station is None:
        names = ("reading",)
    if isinstance(truth.meaning, CheckSetUp):
        names = ("reading",)
    return all(same(row.payload.get(name), truth.row.payload.get(name)) for name in names)


def answered_as_meant(outcome: Outcome, truth: Truth, job: State) -> bool:
    """Whether a question was understood as it was meant, at once or after it was asked which of two was said."""
    if isinstance(outcome.meaning, Miss):
        return False
    if is_meant(outcome.meaning, truth):
        return True
    return isinstance(outcome.meaning, Answer) and outcome.reply.shown == respond(job, truth.meaning).reply.shown


def is_meant(meaning: Meaning, truth: Truth) -> bool:
    """Whether a meaning is what was said. Where no place was said, Rodside may have put in its own."""
    meant = truth.meaning
    if isinstance(meaning, Reading) and isinstance(meant, Reading) and meant.station is None:
        meaning = replace(meaning, station=None)
    return same(encode_meaning(meaning), encode_meaning(meant))
