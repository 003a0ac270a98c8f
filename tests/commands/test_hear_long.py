"""Long files: what is listened to, what is passed over, and what is told. Counted with a fake ear, never timed."""

from __future__ import annotations

import io
import tracemalloc
from pathlib import Path

import numpy as np
import pytest
import soundfile
from fixtures import recordings

from assistant import cli
from assistant.commands import hear
from assistant.environment import Environment, ExitStatus
from assistant.hearing.port import SAMPLE_RATE, Hypothesis, Samples, Word
from assistant.hearing.sources import blocks
from grammar.automaton import Automaton

CLIP = "reading two foot eleven at station one hundred"


class Count:
    """An ear that hears the same in everything, and counts what it was given."""

    name = "count"
    calibrated = False

    def __init__(self) -> None:
        self.given: list[int] = []

    def prepare(self, language: Automaton) -> None:
        pass

    def hear(self, samples: Samples, language: Automaton) -> tuple[Hypothesis, ...]:
        self.given.append(len(samples))
        return (Hypothesis((Word("rod", 0.0, 0.3), Word("in", 0.3, 0.6), Word("tenths", 0.6, 1.0)), 0.0),)

    def any_sounds(self, samples: Samples) -> Hypothesis | None:
        return None

    def witness(self, samples: Samples, language: Automaton) -> None:
        return None

    def missing_words(self, language: Automaton) -> list[str]:
        return []


class Terminal(io.StringIO):
    def isatty(self) -> bool:
        return True


@pytest.fixture
def ear(monkeypatch: pytest.MonkeyPatch) -> Count:
    count = Count()
    monkeypatch.setattr(hear, "open_ear", lambda *_: count)
    return count


@pytest.fixture(scope="module")
def clip() -> Samples:
    """A sentence from its first sound to its last."""
    (recording,) = [one for one in recordings("clean") if one.words == CLIP]
    sound = np.concatenate(list(blocks(recording.path)))
    loud = np.flatnonzero(np.abs(sound) > 500)
    return sound[loud[0] : loud[-1]]


def laid(path: Path, *parts: Samples | float) -> Path:
    """A file of sounds and seconds of silence, in a faint hiss."""
    dice = np.random.default_rng(0)
    with soundfile.SoundFile(path, "w", SAMPLE_RATE, 1, "PCM_16") as file:
        for part in parts:
            sound = np.zeros(int(part * SAMPLE_RATE), np.int16) if isinstance(part, float) else part
            file.write((sound + dice.normal(0, 10, len(sound))).astype(np.int16))
    return path


def told(*files: Path, terminal: bool = False) -> tuple[ExitStatus, str, str]:
    here = Environment(stdin=io.StringIO(), stdout=io.StringIO(), stderr=Terminal() if terminal else io.StringIO())
    status = cli.main(["hear", *map(str, files)], here)
    assert isinstance(here.stdout, io.StringIO) and isinstance(here.stderr, io.StringIO)
    return ExitStatus(status), here.stdout.getvalue(), here.stderr.getvalue()


def test_minutes_without_a_pause_are_never_listened_to(tmp_path: Path, ear: Count, clip: Samples) -> None:
    times = 3 * 60 * SAMPLE_RATE // len(clip)
    status, said, warned = told(laid(tmp_path / "babble.flac", *[clip] * times))
    assert ear.given == []
    assert said == ""
    assert status == ExitStatus.NOT_UNDERSTOOD
    assert warned.count("passed over") == 1
    assert "for more than 10 seconds: 0:00 to 2:59. Pause after each sentence." in warned
    assert "nothing is said" not in warned


def test_what_is_said_around_it_is_answered_and_its_place_is_told(tmp_path: Path, ear: Count, clip: Samples) -> None:
    talk = [clip] * (20 * SAMPLE_RATE // len(clip))
    lasts = len(talk) * len(clip) / SAMPLE_RATE
    one = len(clip) / SAMPLE_RATE
    file = laid(tmp_path / "talk.flac", 1.0, clip, 2.0, *talk, 2.0, clip, 1.0)
    status, said, warned = told(file)
    assert said.count("> rod in tenths") == 2
    assert max(ear.given) < (one + 2) * SAMPLE_RATE
    assert status == ExitStatus.NOT_UNDERSTOOD
    (start, end) = warned.splitlines()[-1].split("seconds: ")[1].split(". ")[0].split(" to ")
    seconds = [int(clock.split(":")[0]) * 60 + int(clock.split(":")[1]) for clock in (start, end)]
    assert seconds[0] == pytest.approx(3 + one, abs=1.5)
    assert seconds[1] == pytest.approx(3 + one + lasts + 1.2, abs=1.5)


def test_many_places_are_told_in_one_short_line(
    tmp_path: Path, ear: Count, clip: Samples, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(hear, "MOST_TOLD", 1)
    talk = [*[clip] * (13 * SAMPLE_RATE // len(clip)), 2.0]
    _, _, warned = told(laid(tmp_path / "talk.flac", *talk, *talk, *talk))
    assert ear.given == []
    assert ", and 2 more, 0:" in warned.splitlines()[-1]


def test_a_sentence_in_which_the_file_breaks_off_is_not_taken(tmp_path: Path, ear: Count, clip: Samples) -> None:
    file = laid(tmp_path / "talk.wav", 1.0, clip, 2.0, clip)
    file.write_bytes(file.read_bytes()[: -2 * (len(clip) // 3)])
    status, said, warned = told(file)
    assert said.count("> rod in tenths") == 1
    assert status == ExitStatus.SOUND
    assert "breaks off at" in warned


@pytest.mark.parametrize(("terminal", "lines"), [(True, 11), (False, 1)])
def test_how_far_it_is_is_told_now_and_then(tmp_path: Path, ear: Count, terminal: bool, lines: int) -> None:
    minute = 60.0
    _, _, warned = told(laid(tmp_path / "long.flac", *[minute] * 11, 30.0), terminal=terminal)
    assert warned.count(": heard to ") == lines
    assert "heard to 10:00." in warned
    assert ear.given == []


def test_memory_does_not_grow_with_what_is_passed_over(tmp_path: Path, ear: Count, clip: Samples) -> None:
    def peak(seconds: int) -> int:
        file = laid(tmp_path / f"{seconds}.flac", *[clip] * (seconds * SAMPLE_RATE // len(clip)))
        tracemalloc.start()
        told(file)
        _, most = tracemalloc.get_traced_memory()
        tracemalloc.stop()
        return most

    peak(15)  # what is loaded once
    assert peak(120) < peak(30) + 500_000
