"""The trial counts what it says: over a listener that is right, one that lies, one that is deaf, and the real one."""

from __future__ import annotations

import io
import json
from itertools import islice
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from assistant import cli
from assistant.book.store import Book
from assistant.environment import Environment, ExitStatus
from assistant.hearing.ears import open_ear
from assistant.hearing.port import Hypothesis, Samples, Word
from assistant.job.state import Job as State
from assistant.lab.trial import site, tally, voices
from assistant.lab.trial.collect import jobs
from assistant.lab.trial.day import Day, Plan, Tried, by_digits
from assistant.lab.trial.truth import Job, Truth, data, group_of, is_meant
from assistant.talk.session import Session
from assistant.wording.asked import settled_by
from grammar.automaton import Automaton
from grammar.meanings import Miss
from grammar.quantities import Marking
from grammar.understand import Context, understand


class Scripted:
    """An ear that is told what was said, and may hear other words."""

    name = "scripted"
    calibrated = True

    def __init__(self, swap: dict[str, str] | None = None, deaf: bool = False) -> None:
        self.swap, self.deaf, self.said = swap or {}, deaf, ""

    def hear(self, samples: Samples, language: Automaton) -> tuple[Hypothesis, ...]:
        words = [self.swap.get(word, word) for word in self.said.split()]
        return () if self.deaf else (Hypothesis(tuple(Word(word, 0.0, 0.0) for word in words), 0.0),)

    def missing_words(self, language: Automaton) -> list[str]:
        return []


def lived(ear: Scripted, plan: Plan, count: int) -> list[Any]:
    day = Day(plan, ear, None)
    tone = np.sin(np.arange(8000) / 5).astype(np.float32)

    def voice(text: str) -> site.Sound:
        ear.said = text
        return tone

    def said(text: str) -> Any:
        voice(text)
        guesses = [guess.text for guess in ear.hear(np.zeros(1, np.int16), Automaton("", frozenset(), ()))]
        return day._session.utterance(guesses, engine="scripted")

    day._voice, day._said = voice, said  # type: ignore[method-assign]
    return list(islice(day.entries(), count))


def plan(doubting: bool = False, seed: int = 3) -> Plan:
    return Plan(seed, Marking.INCHES.value, "espeak-ng library", "gusts", site.CLEAN, doubting)


def test_a_perfect_listener_does_nothing_wrong() -> None:
    for tried in lived(Scripted(), plan(), 40):
        assert (tried.silent, tried.asked_wrong, tried.questions, tried.repeats, tried.typed) == (0, 0, 0, 0, False)


def test_a_listener_that_hears_other_numbers_is_found_out() -> None:
    wrong = lived(Scripted({"forty": "fourteen", "twenty": "thirty", "three": "five", "five": "nine"}), plan(), 40)
    assert sum(tried.silent for tried in wrong) > 5
    silent = [tried for tried in wrong if tried.silent]
    assert any(tried.stands for tried in silent) and not all(tried.stands for tried in silent)


def test_a_deaf_listener_writes_nothing_and_everything_is_typed() -> None:
    for tried in lived(Scripted(deaf=True), plan(), 10):
        assert tried.typed and tried.repeats >= 3 and tried.silent == 0


def asked_back(session: Session, *guesses: str) -> None:
    session.utterance(guesses, engine="two guesses")
    assert session.job.question is not None


def test_a_question_that_was_asked_back_and_answered_is_done_with() -> None:
    day = Day(plan(doubting=True), Scripted(), None)
    day._session.utterance(["rod in inches"])
    asked_back(day._session, "what slope is six inches in sixteen feet", "what slope is six inches in sixty feet")
    meaning = understand("what slope is six inches in sixteen feet", day._session.context)
    assert not isinstance(meaning, Miss)
    truth = Truth("slope", "", meaning, None, confirmed=False, answers=0, before=day._session.job)
    outcome = day._session.utterance(["one six feet"])
    assert outcome.rows  # that the question is settled
    assert day._verdict(outcome, truth, Tried("slope", ""), asked=True) is None


def test_a_reading_without_a_place_is_meant_though_rodside_names_the_place() -> None:
    session = Session(Book.scratch())
    for words in ("rod in tenths", "baseline 4.20 ft at station zero", "confirm", "reading 4.10 ft at station 20"):
        session.utterance([words])
    asked_back(session, "reading six point two two feet", "reading six point five zero feet")
    meaning = understand("reading six point two two feet", Context(Marking.TENTHS))
    assert not isinstance(meaning, Miss) and session.job.question is not None
    truth = Truth("reading here", "", meaning, None, confirmed=False, answers=0, before=session.job)
    assert [is_meant(proposal, truth) for proposal in session.job.question.proposals] == [True, False]


@pytest.mark.parametrize("marking", list(Marking))
def test_every_answer_that_is_calibrated_on_has_its_question(marking: Marking) -> None:
    found = jobs(marking)
    assert {job.question.kind for job in found.values() if job.question} == {"confirm", "which"}
    for text, job in found.items():
        meaning = understand(text, Context(marking, asking=True))
        assert job.question is not None and not isinstance(meaning, Miss)
        assert job.question.kind == "confirm" or settled_by(job.question, meaning) is not None


@pytest.mark.parametrize("marking", list(Marking))
@pytest.mark.parametrize("digits", [False, True])
def test_whatever_is_said_has_one_meaning(marking: Marking, digits: bool) -> None:
    kinds = set()
    for seed in range(12):
        for truth in Job(seed, marking, digits).day():
            kinds.add(truth.kind)
            assert not isinstance(understand(truth.text, Context(marking)), Miss), truth.text
    assert len(kinds) >= 20


def test_days_are_the_same_for_the_same_seed_and_differ_for_another() -> None:
    one, again, other = ([truth.text for truth in Job(seed, Marking.TENTHS).day()] for seed in (1, 1, 2))
    assert one == again != other


def test_every_kind_of_sentence_is_counted_in_a_group() -> None:
    for kind in data()["said"]:
        assert group_of(kind)


@pytest.mark.parametrize(
    ("events", "trials", "bound"), [(0, 3000, 0.000998), (0, 10, 0.2589), (1, 20, 0.2161), (5, 5, 1)]
)
def test_the_bound_is_that_of_clopper_and_pearson(events: int, trials: int, bound: float) -> None:
    """0 of n: 1 - 0.05 ** (1/n), computed; 1 of 20: a printed table of one-sided limits, from memory."""
    assert tally.upper_bound(events, trials) == pytest.approx(bound, rel=1e-3)


def test_a_recording_that_was_cut_in_its_word_speaks_for_nobody() -> None:
    dice = np.random.default_rng(1)
    silent, word = dice.normal(0, 0.001, 4000), np.sin(np.arange(8000) / 3) * 0.3
    for parts, cut in (((silent, word, silent), False), ((word, silent), True), ((silent, word), True)):
        assert voices.begins_or_ends_loud(np.concatenate(parts).astype(np.float32)) is cut


@pytest.mark.parametrize("ratio", [20.0, 10.0, 5.0])
def test_speech_is_as_loud_over_the_noise_as_asked(ratio: float) -> None:
    speech = np.sin(np.arange(16000) / 7).astype(np.float32) * 0.01
    air = site.Air(site.noise("motor", None), ratio, 1)
    air.speak(speech)
    sound = np.concatenate(list(air)).astype(float)
    quiet = np.mean(sound[-32000:] ** 2)
    loud = np.mean(sound[8000:24000] ** 2) - quiet
    assert 10 * np.log10(loud / quiet) == pytest.approx(ratio, abs=2)


def test_a_day_through_the_real_ear(tmp_path: Path) -> None:
    done = list(islice(Day(plan(doubting=True), open_ear(), None).entries(), 6))
    assert sum(tried.repeats == 0 for tried in done) >= 3
    assert all(tried.seconds > 0 for tried in done)


def test_what_was_lived_is_not_lived_again(tmp_path: Path) -> None:
    entry = {"group": "reading", "silent": 1, "asked_wrong": 0, "stands": True, "questions": 0, "repeats": 0}
    entry |= {"typed": False, "seconds": 2.0, "perfect": 1.0}
    kept = tmp_path / "days.jsonl"
    world = Environment(stdout=io.StringIO(), stderr=io.StringIO())
    options = cli.parser().parse_args(["trial", "--days", "1", "--snr", "20"])
    from assistant.commands.trial import plans

    days = [{**vars(p), "name": p.name, "entries": [entry]} for p in plans(options, None)]
    kept.write_text("".join(json.dumps(day) + "\n" for day in days) + '{"cut')
    assert cli.main(["trial", "--days", "1", "--snr", "20", "--resume", str(kept)], world) == ExitStatus.OK
    assert isinstance(world.stdout, io.StringIO) and isinstance(world.stderr, io.StringIO)
    assert world.stderr.getvalue() == ""
    assert world.stdout.getvalue().count("1000.0") >= 4


@pytest.mark.parametrize(
    ("text", "digits"),
    [
        ("reading four thirty two at station forty", "reading four three two at station four zero"),
        ("station sixteen reading two point one", "station one six reading two point one"),
        ("convert one in sixty to percent", "convert one in six zero to percent"),
        ("what is half a percent in inches per foot", "what is half a percent in inches per foot"),  # no digits
        ("reading twelve point five at twenty five", "reading one two point five at two five"),
    ],
)
def test_who_is_told_to_say_it_digit_by_digit_does_where_it_means_the_same(text: str, digits: str) -> None:
    job = State(marking=Marking.TENTHS)
    meaning = understand(text, Context(Marking.TENTHS))
    assert not isinstance(meaning, Miss)
    assert by_digits(Truth("reading", text, meaning, None, confirmed=False, answers=0, before=job)) == digits
