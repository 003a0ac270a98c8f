"""One simulated day: a person who says what the truth is, answers questions, and mostly notices what went wrong."""

from __future__ import annotations

import random
from collections.abc import Iterator
from dataclasses import asdict, dataclass, replace
from pathlib import Path
from typing import Any

from assistant.book.store import Book
from assistant.hearing.port import Ear
from assistant.job.records import Question, same
from assistant.lab.trial import site, voices
from assistant.lab.trial.calibrate import context_of
from assistant.lab.trial.truth import ABOUT_QUESTIONS, Job, Truth, answered_as_meant, as_meant, group_of, is_meant
from assistant.talk.listening import listen
from assistant.talk.session import Outcome, Session
from assistant.wording.asked import as_asked, settled_by
from grammar.meanings import Miss
from grammar.quantities import Marking
from grammar.understand import understand
from grammar.words import table

NOTICES = 0.63
"""How often a wrong read-back is noticed and corrected. Source: Boyce (2008) as told by a guide on spoken dialogues
(quoted, not read): 63 of 100 answered a simulated error with a no or a correction."""

SECONDS_A_WORD = 0.5
"""Of an answer: figures that are copied down are spoken at 120 words a minute (check W08, read)."""

MOST_MISSES = 3
"""After as many misses of one sentence a person types it."""

MOST_TURNS = 12
"""Turns after which one entry is given up on: typed."""


DIGIT_BY_DIGIT = "digit by digit"
"""How a reply asks for it."""


@dataclass(frozen=True)
class Plan:
    """What is tried in a day. `ratio` is in decibels."""

    seed: int
    marking: str
    voice: str
    noise: str
    ratio: float
    doubting: bool

    @property
    def name(self) -> str:
        """Tells it from every other."""
        doubt = "doubting" if self.doubting else "believing"
        return f"{self.seed}/{self.marking}/{self.voice}/{self.noise}/{self.ratio:g}/{doubt}"


@dataclass
class Tried:
    """What became of one entry: counts of silent wrong numbers, questions and so on, and seconds."""

    kind: str
    text: str
    silent: int = 0
    """Wrong numbers that were written or answered without a question."""
    asked_wrong: int = 0
    """Wrong numbers that went in although it was asked."""
    stands: bool = False
    """Whether something wrong was left as it was."""
    questions: int = 0
    """Questions beyond those that any listener asks."""
    repeats: int = 0
    typed: bool = False
    seconds: float = 0.0
    perfect: float = 0.0
    heard: str = ""
    """What was heard where a number was silently wrong."""


def run(plan: Plan, ear: Ear, speech: Path | None) -> list[dict[str, Any]]:
    """Live through one day and tell what became of each entry."""
    return [{**asdict(tried), "group": group_of(tried.kind)} for tried in Day(plan, ear, speech).entries()]


class Day:
    """A day: the person, the air between, and the real chain on the other side."""

    def __init__(self, plan: Plan, ear: Ear, speech: Path | None) -> None:
        self._dice = random.Random(plan.seed)
        self._job = Job(plan.seed, Marking(plan.marking), digit_by_digit=plan.voice == "people's digits")
        self._voice = voices.voice(plan.voice, plan.seed, speech)
        self._air = site.Air(site.noise(plan.noise, speech), plan.ratio, plan.seed)
        self._ear = ear
        self._session = Session(Book.scratch(), doubting=plan.doubting)
        self._session.begin()
        self._outcomes = listen(self._session, ear, self._air)

    def entries(self) -> Iterator[Tried]:
        """Every entry, as it is done with."""
        for truth in self._job.day():
            yield self._carry_out(truth)

    def _carry_out(self, truth: Truth) -> Tried:
        tried = Tried(truth.kind, truth.text)
        began, words = self._air.seconds, 0
        sound = self._voice(truth.text)
        steps = 2 if truth.confirmed else 1
        tried.perfect = len(sound) / 16000 + steps * (site.BEFORE + 0.6) + (steps - 1) * 0.6
        tried.perfect += truth.answers * SECONDS_A_WORD
        misses, say, asked, self._confirming = 0, truth.text, False, False
        for _ in range(MOST_TURNS):
            outcome = self._said(say) if misses < MOST_MISSES else self._typed(say, tried)
            if outcome is None:
                misses, say = misses + 1, truth.text
                tried.repeats += 1
                continue
            words += len(outcome.reply.spoken.split())
            verdict = self._verdict(outcome, truth, tried, asked=asked)
            if verdict is None:
                break
            if verdict in (truth.text, by_digits(truth)):
                tried.repeats += 1
                misses += 1
            asked = self._session.job.question is not None
            say = verdict
        else:
            self._give_up(truth, tried)
        tried.seconds = self._air.seconds - began + words * SECONDS_A_WORD
        return tried

    def _verdict(self, outcome: Outcome, truth: Truth, tried: Tried, *, asked: bool) -> str | None:
        """What the person says next; nothing if all is done, or seems to be."""
        question = self._session.job.question
        if question is not None and outcome.reply.asks:
            usual = truth.confirmed and question.kind == "confirm" and not self._confirming
            self._confirming |= usual
            tried.questions += not usual
            return self._answer(question, truth)
        written = [row for row in outcome.rows if row.kind not in ABOUT_QUESTIONS]
        if written:
            if written[0].kind == "scratch" and truth.kind != "scratch":
                return truth.text
            if as_meant(written[0], truth):
                return None
            return self._gone_wrong(outcome, tried, asked=asked, undo="scratch that")
        if truth.row is None and answered_as_meant(outcome, truth, self._session.job):
            return None
        if DIGIT_BY_DIGIT in outcome.reply.spoken and not outcome.understood:
            return by_digits(truth)
        if not outcome.understood or outcome.rows or _is_refused(outcome, truth):
            return truth.text
        if any(figure.isdigit() for figure in outcome.reply.shown):
            return self._gone_wrong(outcome, tried, asked=asked, undo=truth.text)
        return truth.text

    def _gone_wrong(self, outcome: Outcome, tried: Tried, *, asked: bool, undo: str) -> str | None:
        if asked:
            tried.asked_wrong += 1
        else:
            tried.silent += 1
            tried.heard = outcome.heard
        if self._dice.random() < NOTICES:
            return undo
        tried.stands = True
        return None

    def _answer(self, question: Question, truth: Truth) -> str:
        right = [proposal for proposal in question.proposals if is_meant(proposal, truth)]
        if not right and self._dice.random() < NOTICES:
            return "never mind"
        chosen = right[0] if right else question.proposals[0]
        if question.kind == "confirm":
            return "confirm"
        named = as_asked(question)[question.proposals.index(chosen)]
        meaning = understand(named, replace(context_of(truth.before), asking=True))
        is_named = not isinstance(meaning, Miss) and settled_by(question, meaning) == chosen
        return named if is_named else truth.text

    def _said(self, text: str) -> Outcome | None:
        self._air.speak(voices.never_twice_the_same(self._voice(text), self._dice))
        for outcome in self._outcomes:
            return outcome
        self._outcomes = listen(self._session, self._ear, self._air)
        return None

    def _typed(self, text: str, tried: Tried) -> Outcome:
        tried.typed = True
        return self._session.utterance([text])

    def _give_up(self, truth: Truth, tried: Tried) -> None:
        """Type what never came through, so that the rest of the day stands on it."""
        tried.typed = True
        if self._session.job.question is not None:
            self._session.utterance(["never mind"])
        self._session.utterance([truth.text])
        if self._session.job.question is not None:
            self._session.utterance(["confirm"])


def by_digits(truth: Truth) -> str:
    """The sentence with its numbers said digit by digit, if it means the same so; else as it was said before."""
    values, digits = table().values, voices.DIGITS
    words = truth.text.split()
    said: list[str] = []
    for word, after in zip(words, [*words[1:], ""], strict=True):
        tens, ones = divmod(values[word], 10) if table().terminals.get(word) in ("TEEN", "TENS") else (0, 0)
        goes_on = tens > 1 and values.get(after, 0) in range(1, 10) and after in digits
        said += [digits[tens], *([] if goes_on else [digits[ones]])] if tens else [word]
    text = " ".join(said)
    return text if same(understand(text, context_of(truth.before)), truth.meaning) else truth.text


def _is_refused(outcome: Outcome, truth: Truth) -> bool:
    """Whether an entry was taken for another of its kind and not written: the reply says why, and is no answer."""
    return truth.row is not None and type(outcome.meaning) is type(truth.meaning)
