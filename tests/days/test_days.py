"""Whole days on site, typed into the program itself: what the book's table says at the end, exactly.

A day is a file of sentences; beside it lies its table, with figures for the clock. After a change that is meant,
`RODSIDE_RECORD=1 pytest tests/days` writes the tables anew, to be read before they are kept.
"""

import os
import re
import subprocess
import sys
from pathlib import Path

import pytest

DAYS = sorted(Path(__file__).parent.glob("*.txt"))


def rodside(*arguments: str) -> str:
    done = subprocess.run(
        [sys.executable, "-m", "assistant", *arguments], capture_output=True, text=True, check=False, timeout=120
    )
    assert done.returncode == 0, done.stdout + done.stderr
    return done.stdout


def plain(table: str) -> str:
    """Without the time of day, and without the blanks at the ends of lines."""
    timeless = re.sub(r"\d\d:\d\d(:\d\d)?", "--:--", table)
    return "\n".join(re.sub(r"  +", "  ", line).rstrip() for line in timeless.splitlines()) + "\n"


@pytest.mark.parametrize("day", DAYS, ids=lambda path: path.stem)
def test_day(day: Path, tmp_path: Path) -> None:
    sentences = [line for line in day.read_text("utf-8").splitlines() if line and not line.startswith("#")]
    book = str(tmp_path / "day.rodside")
    rodside("ask", "--book", book, *sentences)
    table = plain(rodside("book", book))
    wanted = day.with_suffix(".table")
    if os.environ.get("RODSIDE_RECORD"):
        wanted.write_text(table, "utf-8")
    assert table == wanted.read_text("utf-8")
