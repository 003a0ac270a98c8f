"""Mutated lines in every state of a talk: whether one of them raises, goes without an answer, or spoils the book.

A scene of `scenes.toml` makes the state: a rod, a set-up, a design, a place and an open question, each of every kind.
Into it come sentences drawn from the grammar, as spoken and in typed shorthand, whole and mutated. Most are only
answered, so that the state stays; some are taken, with all that follows. In the end the book must give back the job.
"""

from __future__ import annotations

import logging
import random
import tomllib
from collections import Counter
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass, field
from importlib.resources import files
from itertools import chain, product
from traceback import extract_tb

from assistant.book.store import Book
from assistant.conversation.respond import respond
from assistant.job.state import Job
from assistant.report.ledger import lines as ledger_lines
from assistant.talk.resuming import where_it_was
from assistant.talk.session import Session
from assistant.talk.session import log as session_log
from grammar.meanings import Miss
from grammar.phrases import examples, sample, topics
from grammar.quantities import Marking
from grammar.understand import understand
from grammar.words import table

GROUPS = ("rods", "setups", "designs", "places", "questions")
LINES_A_SCENE = 100
TAKEN = 0.15
"""The share of the lines that are taken into the talk, and not only answered."""
HEARD = 0.3
"""The share of those that come as two guesses at a sound."""

SHORTHAND = """3'9" 3'9 3-9 3-9 1/2 3-1/2 3.75 .5 5. 1/2 9/16 19/16 3/7 1/4 2% 1/4 in/ft 1:80 1:0 0+40 1+50.5 12+00 4 in
5 ft 3 ft 9 in 3ft 9in 1 in 3 mm 1.27 m 5° 12" 0 00 007 99999 100000 1,405 1.2.3 3,9 in by at of '""".split()
SIGNS = [*"'\"-+%°/:.,?!;½⅛’“–\n\t\0\x1b=@", "\ud800", "\u202e", "１", "ﬁ", "é"]


@dataclass
class Found:
    """What came of it, counted."""

    scenes: int = 0
    lines: int = 0
    understood: int = 0
    entries: int = 0
    questions: int = 0
    states: set[tuple[object, ...]] = field(default_factory=set)
    troubles: Counter[str] = field(default_factory=Counter)
    examples: dict[str, list[str]] = field(default_factory=dict)

    def note(self, trouble: str, talk: list[str]) -> None:
        """Count a trouble; the shortest talk that led to it is kept."""
        self.troubles[trouble] += 1
        if trouble not in self.examples or len(self.examples[trouble]) > len(talk):
            self.examples[trouble] = talk

    def __add__(self, other: Found) -> Found:
        """Both together."""
        counts = {name: getattr(self, name) + getattr(other, name) for name in COUNTS}
        both = Found(**counts, states=self.states | other.states, troubles=self.troubles + other.troubles)
        both.examples = {**self.examples, **other.examples}
        return both

    def figures(self) -> Iterator[tuple[str, str]]:
        """What to print, by name."""
        yield from ((name, f"{getattr(self, name):,}") for name in COUNTS)
        yield "kinds of states", f"{len(self.states):,}"
        yield "troubles", f"{self.troubles.total():,}"
        for trouble, count in self.troubles.most_common():
            yield trouble, f"{count:,}: {self.examples[trouble]!r}"


COUNTS = ("scenes", "lines", "understood", "entries", "questions")


def fuzz(lines: int, seed: int) -> Iterator[Found]:
    """Say `lines` lines, and tell after each scene what was found so far; the same ones for the same seed."""
    dice = random.Random(seed)
    scenes, found = list(_scenes()), Found()
    dice.shuffle(scenes)
    anywhere = [*chain.from_iterable(map(examples, topics())), *sample(500, seed, "answer")]
    pools = {rod: [*sample(2000, seed, marking=rod), *anywhere] for rod in (None, *Marking)}
    while found.lines < lines:
        for scene in scenes:
            _played(scene, min(LINES_A_SCENE, lines - found.lines), pools, dice, found)
            yield found
            if found.lines >= lines:
                return


def whole(work: tuple[int, int]) -> Found:
    """What is found in the end: of so many lines, with a seed."""
    *_, found = fuzz(*work)
    return found


def _scenes() -> Iterator[tuple[str, ...]]:
    """The lines of every scene."""
    told = tomllib.loads(files("assistant.lab.trial").joinpath("scenes.toml").read_text("utf-8"))
    for rod, *parts in product(*(told[group] for group in GROUPS)):
        said = [*told["rods"][rod]]
        for group, part in zip(GROUPS[1:], parts, strict=True):
            said += told[group][part]
        amounts = told["amounts"][rod]
        yield tuple(line.replace("{}", amounts[at % len(amounts)]) for at, line in enumerate(said))


def _played(
    said: tuple[str, ...], count: int, pools: dict[Marking | None, list[str]], dice: random.Random, found: Found
) -> None:
    talk = list(said)
    found.scenes += 1
    with Book.scratch() as book:
        session = Session(book)
        session.begin()
        with _failures(found, talk):
            for line in said:
                session.utterance([line])
        pool = pools[session.job.marking]
        for _ in range(count):
            found.lines += 1
            found.states.add(_state(session.job))
            line = mutated(pool, dice)
            if dice.random() < TAKEN:
                talk.append(line)
                with _failures(found, talk):
                    _said(line, pool, session, found, dice)
                continue
            try:
                _answered(line, session, found)
            except Exception as error:
                found.note(_place(error), [*talk, line])
        try:
            if not _given_back(book, session.job):
                found.note("the book gives back another job", talk)
        except Exception as error:
            found.note(f"opened again: {_place(error)}", talk)


@contextmanager
def _failures(found: Found, talk: list[str]) -> Iterator[None]:
    """Count what a session caught and logged."""

    class Counted(logging.Handler):
        def emit(self, record: logging.LogRecord) -> None:
            error = record.exc_info[1] if record.exc_info else None
            if isinstance(error, Exception):
                found.note(_place(error), [*talk])

    handler = Counted()
    session_log.addHandler(handler)
    session_log.propagate = False
    try:
        yield
    finally:
        session_log.removeHandler(handler)
        session_log.propagate = True


def mutated(pool: list[str], dice: random.Random) -> str:
    """A sentence, whole or not."""
    words = dice.choice(pool).split()
    for _ in range(dice.choice((0, 0, 1, 1, 2, 3, 8))):
        at = dice.randrange(len(words) + 1)
        match dice.randrange(8):
            case 0:
                del words[at : at + dice.randint(1, 3)]
            case 1:
                words.insert(at, dice.choice(list(table().terminals)))
            case 2:
                words[at : at + 1] = [dice.choice(SHORTHAND)]
            case 3:
                words.insert(at, dice.choice(SHORTHAND))
            case 4:
                words[at:] = dice.choice(pool).split()[dice.randrange(4) :]
            case 5:
                words[at : at + 2] = reversed(words[at : at + 2])
            case 6:
                words.insert(at, dice.choice(SIGNS))
            case _:
                words[at:at] = words[at : at + dice.randint(1, 3)] * dice.choice((1, 1, 1, 40))
    return ("" if dice.random() < 0.02 else " ").join(words)


def _answered(line: str, session: Session, found: Found) -> None:
    meaning = understand(line, session.context)
    found.understood += not isinstance(meaning, Miss)
    turn = respond(session.job, meaning)
    if not turn.reply.shown or not turn.reply.spoken:
        found.note(f"no answer to {type(meaning).__name__}", [line])


def _said(line: str, pool: list[str], session: Session, found: Found, dice: random.Random) -> None:
    if dice.random() < HEARD:
        outcome = session.utterance([line, dice.choice(pool)], engine="ear")
    else:
        outcome = session.utterance([line])
    found.understood += outcome.understood
    found.entries += len(outcome.rows)
    found.questions += outcome.reply.asks


def _given_back(book: Book, job: Job) -> bool:
    """Whether the book makes the same job again, and can be shown."""
    rows = list(book.rows())
    again = Job.folded(rows)
    where_it_was(again)
    for _ in ledger_lines(rows):
        pass
    return _state(again) == _state(job) and again.question == job.question and again.place == job.place


def _state(job: Job) -> tuple[object, ...]:
    """What kinds of things a job holds."""
    question = job.question
    asked = () if question is None else (question.kind, *(type(each).__name__ for each in question.proposals))
    held = (job.baseline, job.benchmark, job.under, job.pipe, job.below, job.across, job.slope_stakes, job.peg_middle)
    kept = (job.tolerance, job.accuracy, job.paced, job.allowance, job.rod_length)
    return (
        job.marking,
        tuple(each is not None for each in (*held, *kept)),
        None if job.line is None else (job.line.reading is None, job.line.elevation is None, len(job.changes)),
        type(job.plane).__name__,
        len(job.plane_points),
        getattr(job.place, "name", type(job.place).__name__),
        min(job.reading_count, 2),
        asked,
    )


def _place(error: Exception) -> str:
    """An exception and the last line of ours that it came through."""
    through = extract_tb(error.__traceback__)
    where = next((each for each in reversed(through) if "/site-packages/" not in each.filename), through[-1])
    return f"{type(error).__name__} in {where.filename.rpartition('/')[2]}:{where.lineno} {where.name}"
