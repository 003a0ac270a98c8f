"""How long a report takes, and how much memory."""

from __future__ import annotations

import random
from collections.abc import Iterator
from time import perf_counter, process_time

from assistant.book.entries import Row
from assistant.book.store import Book
from assistant.environment import now
from assistant.lab.measuring.speed import Line, peak_mb
from assistant.talk.session import Session

READINGS = 10_000


def report() -> Iterator[Line]:
    """The page of a job of many readings, at places spread over a mile and a half."""
    rows = _many(READINGS)
    before = peak_mb()
    began = perf_counter()
    from assistant.report import page

    page.html(rows[:20], "bench")
    yield "report of a small job, libraries and all", f"{perf_counter() - began:.2f} s", ""
    began, worked = perf_counter(), process_time()
    text = page.html(rows, "bench")
    yield f"report of {READINGS:,} readings", f"{perf_counter() - began:.2f} s", "budget 5 s"
    yield "of which CPU", f"{process_time() - worked:.2f} s", ""
    yield "its size", f"{len(text) / 1e6:.1f} MB", ""
    yield "memory that reports add", f"{peak_mb() - before:.0f} MB", ""


def _many(count: int) -> list[Row]:
    dice = random.Random(1)
    with Book.scratch(now) as book:
        session = Session(book)
        for words in ("rod in tenths", "baseline 4.00 at station zero", "confirm", "tolerance 0.02 feet", "confirm",
                      "line from station zero falling 0.1 percent", "confirm", "the rod is 25 feet long",
                      "question readings more than 20 feet off"):  # fmt: skip
            session.utterance([words])
        for _ in range(count):
            station = dice.randrange(1, 9000)
            session.utterance([f"reading {4 + station / 1000 + dice.randrange(-30, 30) / 100:.2f} at {station}"])
        return list(book.rows())
