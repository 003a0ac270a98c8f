"""What can go wrong around a talk: it says so, and no number is lost or made up."""

from __future__ import annotations

import os
import signal
import subprocess
import sys
from datetime import UTC, datetime, timedelta
from pathlib import Path

import pytest
from fixtures import ROOT

from assistant.book.entries import Entry, Row
from assistant.book.errors import DiskFull
from assistant.book.store import Book
from assistant.book.verify import findings
from assistant.environment import ExitStatus
from assistant.hearing.ears import open_ear
from assistant.lab.trial.soak import minutes
from assistant.talk.listening import listen
from assistant.talk.session import Session

SET_UP = ("rod in feet and inches", "baseline four foot two at station zero", "confirm")
LINE = ("line from station zero falling two percent", "confirm", "reading four foot six at station twenty")


def program(book: Path, *options: str) -> subprocess.Popen[str]:
    command = [sys.executable, "-m", "assistant", *options, "--book", str(book)]
    world = {**os.environ, "PYTHONPATH": str(ROOT), "PYTHONUNBUFFERED": "1"}
    pipes = {"stdin": subprocess.PIPE, "stdout": subprocess.PIPE, "stderr": subprocess.PIPE}
    return subprocess.Popen(command, env=world, text=True, **pipes)  # type: ignore[call-overload,no-any-return]


def killed_after(book: Path, *lines: str) -> None:
    """Talk to the program, and kill it without warning once the last line was answered."""
    talk = program(book)
    assert talk.stdin is not None and talk.stdout is not None
    for _ in range(2):
        talk.stdout.readline()
    for line in lines:
        print(line, file=talk.stdin, flush=True)
        talk.stdout.readline()
    talk.send_signal(signal.SIGKILL)
    talk.communicate()


@pytest.mark.parametrize(
    ("said", "told"),
    [
        (
            (*SET_UP, *LINE),
            "Rod in feet and inches. Baseline 4 ft 2 in at 0+00. Line from 0+00, falling 2 %. You are at 0+20. "
            "Readings in the book: 1. Last reading 4 ft 6 in at 0+20.",
        ),
        (
            (*SET_UP, *LINE, "reading nine foot six at station forty"),
            "Last reading 4 ft 6 in at 0+20. A question is open. 9 ft 6 in at 0+40. Say confirm, or never mind.",
        ),
        (
            (*SET_UP, "line from station zero falling three percent"),
            "A question is open. Line from 0+00, falling 3 %. Say confirm, or never mind.",
        ),
        (
            (*SET_UP, "reading four and a half at station ten"),
            "A question is open. 4 ft 1/2 in, or 4 1/2 in?",
        ),
    ],
)
def test_a_program_that_was_killed_says_where_it_was(tmp_path: Path, said: tuple[str, ...], told: str) -> None:
    book = tmp_path / "killed.rodside"
    killed_after(book, *said)
    shown, _ = program(book).communicate("", timeout=60)
    assert shown.splitlines()[0].endswith(told)


def test_a_question_is_answered_after_a_kill(tmp_path: Path) -> None:
    book = tmp_path / "killed.rodside"
    killed_after(book, *SET_UP, *LINE, "reading nine foot six at station forty")
    shown, _ = program(book).communicate("confirm\n", timeout=60)
    assert shown.splitlines()[-1] == "9 ft 6 in at 0+40. Fill 4 ft 6 3/8 in."


def test_a_second_program_on_the_same_book_is_refused(tmp_path: Path) -> None:
    book = tmp_path / "shared.rodside"
    first = program(book)
    assert first.stdout is not None
    first.stdout.readline()
    second = program(book)
    _, trouble = second.communicate("rod in tenths\n", timeout=60)
    assert second.returncode == ExitStatus.BOOK
    assert "is being written by another Rodside; stop that one, or name another book." in trouble
    first.communicate("", timeout=60)
    assert first.returncode == ExitStatus.OK


class Full(Book):
    """A book on a disk that is full while `full` is set."""

    full = False

    def append(self, entries: list[Entry], **said: str | None) -> tuple[Row, ...]:  # type: ignore[override]
        if self.full:
            raise DiskFull("The disk is full: make room, then say it again.")
        return super().append(entries, **said)  # type: ignore[arg-type]


def test_a_disk_that_is_full_between_understanding_and_writing() -> None:
    with Full.scratch() as book:
        assert isinstance(book, Full)
        session = Session(book)
        session.begin()
        for words in (*SET_UP, *LINE):
            session.utterance([words])
        book.full = True
        outcome = session.utterance(["reading four foot seven at station forty"])
        assert outcome.rows == ()
        assert outcome.reply.spoken == "Not written. The disk is full: make room, then say it again."
        assert session.job.reading_count == 1
        book.full = False
        assert session.utterance(["reading four foot seven at station forty"]).rows
        assert session.job.reading_count == 2


def test_a_clock_that_jumps_back_spoils_nothing() -> None:
    hours = iter([0, 0, 0, 0, 0, 0, -3, -3, -3, -3, 24, -48, 0, 0, 0, 0])
    clock = datetime(2026, 5, 4, 7, 30, tzinfo=UTC)
    with Book.scratch(lambda: clock + timedelta(hours=next(hours))) as book:
        session = Session(book)
        session.begin()
        for words in (*SET_UP, *LINE, "reading four foot seven at station forty", "scratch that"):
            session.utterance([words])
        rows = list(book.rows())
        assert [row.sequence for row in rows] == list(range(1, len(rows) + 1))
        assert [row.time for row in rows] != sorted(row.time for row in rows)
        assert list(findings(rows)) == []
        assert session.job.last_reading is not None and session.job.reading_count == 1


def test_two_minutes_of_noise_write_nothing_and_are_not_answered() -> None:
    with Book.scratch() as book:
        session = Session(book)
        session.begin()
        ear = open_ear()
        spoken = [o.reply.spoken for o in listen(session, ear, minutes(2 / 60, None, seed=8)) if o.reply.spoken]
        assert spoken == []
        assert [row.kind for row in book.rows()] == ["opened"]
