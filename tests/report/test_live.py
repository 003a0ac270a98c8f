"""The book in a terminal, and followed on a pipe."""

import io
import os
import signal
import subprocess
import sys
import time
from fractions import Fraction
from pathlib import Path

import pytest
from days import DAYS, day, told
from fixtures import ROOT
from rich.console import Console

from assistant.book.store import Book
from assistant.report.ledger import lines as shown
from assistant.report.live import view
from assistant.report.sketch import sketch
from assistant.report.survey import runs
from assistant.talk.session import Session


def sketched(utterances: list[str], width: int, height: int) -> list[str]:
    (run,) = runs(told(utterances).rows(), lambda entry: entry != 6)
    return sketch(run, width, height)


def test_a_profile_in_characters() -> None:
    """A level line: cut of 0.4 at the start, nothing in the middle, fill of 0.4 at the end."""
    level = ["rod in tenths", "baseline 4.00 at station zero", "confirm"]
    drawn = sketched([*level, "reading 3.60 at 0", "reading 4.00 at 10", "reading 4.40 at 20"], 21, 5)
    assert drawn == [
        "o//",
        "////////",
        "==========?==========",
        "             ........",
        "                  ..o",
    ]


@pytest.mark.parametrize("width", [10, 40, 200])
@pytest.mark.parametrize("name", [path.stem for path in DAYS])
def test_a_sketch_has_the_size_that_was_asked(name: str, width: int) -> None:
    rows = list(day(name).rows())
    scratched = {int(row.payload["sequence"]) for row in rows if row.kind == "scratch"}
    for run in runs(
        [row for row in rows if row.sequence not in scratched and row.kind != "scratch"], lambda entry: True
    ):
        drawn = sketch(run, width, 7)
        assert len(drawn) in (0, 7)
        assert all(len(line) <= width for line in drawn)
        marked = sum(line.count("o") for line in drawn)
        assert 0 < marked <= len(run.left()) or not drawn


def test_one_place_or_none_has_no_profile() -> None:
    assert sketched(["rod in tenths", "baseline 4.00 at station zero", "confirm", "reading 3.6 at 0"], 20, 5) == []


@pytest.mark.parametrize(("width", "height"), [(80, 24), (120, 50), (40, 12)])
@pytest.mark.parametrize("name", [path.stem for path in DAYS])
def test_the_view_fits_the_terminal_and_ends_with_the_last_entry(name: str, width: int, height: int) -> None:
    rows = list(day(name).rows())
    stream = io.StringIO()
    console = Console(file=stream, width=width, height=height, force_terminal=False)
    console.print(view(rows, width, height))
    lines = stream.getvalue().splitlines()
    assert len(lines) <= height
    assert all(len(line) <= width for line in lines)
    last = shown(rows)[-1].sequence
    assert any(line.split()[:1] == [str(last)] for line in lines)


def test_a_pipe_follows_what_is_written(tmp_path: Path) -> None:
    path = tmp_path / "day.rodside"
    with Book.open(path) as book:
        session = Session(book)
        session.utterance(["rod in tenths"])
        command = [sys.executable, "-m", "assistant", "book", str(path), "--follow"]
        environment = {**os.environ, "PYTHONPATH": str(ROOT)}
        with subprocess.Popen(command, stdout=subprocess.PIPE, text=True, env=environment) as child:
            assert child.stdout is not None
            assert child.stdout.readline().split("\t")[2] == "rod"
            session.utterance(["my pace is 2 feet 6 inches"])
            session.settle()
            assert child.stdout.readline().split("\t")[2] == "pace"
            child.send_signal(signal.SIGINT)
            assert child.wait(timeout=20) == 130


def test_a_terminal_follows_until_it_is_stopped(tmp_path: Path) -> None:
    if os.name != "posix":
        pytest.skip("needs a pseudo-terminal")
    import pty

    path = tmp_path / "day.rodside"
    day("deep", path).close()
    child, terminal = pty.fork()
    if child == 0:
        os.chdir(ROOT)
        os.environ.update(TERM="xterm", COLUMNS="100", LINES="40")
        os.execv(sys.executable, [sys.executable, "-m", "assistant", "book", str(path)])
    seen, end = b"", time.monotonic() + 30
    while b"to cut" not in seen and time.monotonic() < end:
        seen += os.read(terminal, 65536)
    assert b"to cut" in seen and b"0+50" in seen
    os.kill(child, signal.SIGINT)
    while True:
        try:
            if not os.read(terminal, 65536):
                break
        except OSError:
            break
    assert os.waitstatus_to_exitcode(os.waitpid(child, 0)[1]) == 130


def test_heights_of_a_step_are_those_of_the_design() -> None:
    (run,) = runs(day("pad").rows(), lambda entry: True)
    assert {point.design for point in run.points} == {Fraction(0)}
