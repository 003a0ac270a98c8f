"""What goes wrong while somebody speaks, or while we do: the program itself, on a virtual card."""

from __future__ import annotations

import signal
import subprocess
import time
from collections.abc import Callable
from pathlib import Path

import pytest
import soundfile
from fixtures import recordings
from hearing.card import Card
from listening.talking import Talk

from assistant.book.store import Book
from assistant.talk.session import Session

QUESTION, READING = "what should i read at station sixty", "reading three foot nine at station forty"
SET_UP = ("rod in feet and inches", "baseline four foot two at station zero", "confirm")
LINE = ("line from station zero rising one percent", "confirm")


@pytest.fixture
def book(tmp_path: Path) -> Path:
    path = tmp_path / "day.rodside"
    with Book.open(path) as opened:
        session = Session(opened)
        session.begin()
        for line in (*SET_UP, *LINE):
            session.utterance([line])
    return path


def wav(words: str, folder: Path, part: float = 1.0) -> Path:
    """The first part of a recorded sentence, as a file that the card can play."""
    samples, rate = soundfile.read(next(r.path for r in recordings("clean") if r.words == words))
    path = folder / "said.wav"
    soundfile.write(path, samples[: int(len(samples) * part)], rate)
    return path


def waited(for_what: Callable[[], object], seconds: float = 20.0) -> bool:
    until = time.monotonic() + seconds
    while not for_what() and time.monotonic() < until:
        time.sleep(0.05)
    return bool(for_what())


def entries(book: Path) -> list[str]:
    with Book.open(book, read_only=True) as opened:
        return [row.kind for row in opened.rows()]


@pytest.mark.slow
def test_killed_in_mid_sentence_it_has_written_nothing_of_it_and_goes_on(
    card: Card, book: Path, tmp_path: Path
) -> None:
    before = entries(book)
    talk = Talk(card, book, "--no-audio")
    assert talk.ready.wait(60)
    time.sleep(1)
    assert card.run("paplay", "--device=site", str(wav(READING, tmp_path, 0.55))).returncode == 0
    talk.program.send_signal(signal.SIGKILL)
    talk.program.wait()
    assert entries(book) == before
    again = Talk(card, book, "--no-audio")
    try:
        assert again.ready.wait(60)
        assert "Line from 0+00, rising 1 %" in again.begun and "Readings in the book: 0" in again.begun
    finally:
        again.end()


@pytest.mark.slow
def test_a_loudspeaker_that_goes_while_it_speaks_costs_the_answer_alone(card: Card, book: Path, tmp_path: Path) -> None:
    talk = Talk(card, book, "--no-audio")
    said = wav(QUESTION, tmp_path)
    try:
        assert talk.ready.wait(60)
        time.sleep(1)
        assert card.run("paplay", "--device=site", str(said)).returncode == 0
        assert waited(lambda: talk.heard)
        time.sleep(0.3)
        card.unplug()
        assert waited(lambda: "microphone is gone" in talk.all)
        card.plug()
        assert waited(lambda: talk.all.count("Listening by") == 2, 60)
        time.sleep(1)
        player = subprocess.Popen(["paplay", "--device=site", str(said)], env=card.world)
        assert waited(lambda: len(talk.heard) == 2)
        assert player.wait() == 0
        assert talk.heard == [QUESTION] * 2
        assert talk.program.poll() is None
    finally:
        talk.end()
