"""A long book, made quickly: some days told to a session once, and then written again and again as later days."""

from __future__ import annotations

import random
import tempfile
from collections.abc import Iterator, Sequence
from datetime import UTC, datetime, timedelta
from itertools import count, cycle
from pathlib import Path
from time import perf_counter

from assistant.book.entries import FIRST_PREVIOUS, Row, canonical, chain_hash
from assistant.book.store import Book
from assistant.book.verify import findings
from assistant.lab.measuring.speed import Line, peak_mb
from assistant.report.ledger import last_lines
from assistant.talk.session import Session

READINGS_A_DAY = 500
"""Our own choice: a busy day."""

SET_UP_EVERY = 50
"""Readings after which the instrument moves on."""

SLOPES = ("0.1", "0.2", "0.25", "0.4")
"""Percent: the line of each of the days that are told; a long book has them in turn."""

BEGAN = datetime(2026, 3, 2, 14, tzinfo=UTC)


ENTRIES = 200_000


def long() -> Iterator[Line]:
    """A book of very many entries: opened for the first time and again, shown, and its chain walked."""
    with tempfile.TemporaryDirectory() as folder:
        path, cache = Path(folder) / "long.rodside", Path(folder) / "cache"
        long_book(path, ENTRIES)
        for what, remark in (
            ("for the first time", ""),
            ("again", "budget 1 s"),
            ("and after an own entry", "budget 1 s"),
        ):
            began = perf_counter()
            with Book.open(path, cache=cache) as book:
                session = Session(book)
                yield f"{ENTRIES:,} entries opened {what}", f"{perf_counter() - began:.2f} s", remark
                if what == "again":
                    session.utterance(["reading 4.25 at station 100"])
        before, began = peak_mb(), perf_counter()
        with Book.open(path, read_only=True) as book:
            last_lines(book, 500)
            yield "their end, as a table", f"{perf_counter() - began:.2f} s", f"{peak_mb() - before:.0f} MB more"
            began = perf_counter()
            assert not list(findings(book.rows()))
            yield "their chain", f"{perf_counter() - began:.2f} s", f"{peak_mb() - before:.0f} MB more"


def long_book(path: Path, entries: int) -> None:
    """Write a book of at least `entries` entries to `path`, in which every hash and every sum is right."""
    with Book.open(path, lambda: BEGAN) as book:
        book.restore(_chained(_days([_day(slope) for slope in SLOPES], entries)))


def _day(slope: str) -> list[Row]:
    """A day from its benchmark on, so that nothing of an earlier day is left in its sums."""
    seconds = count(step=20)
    with Book.scratch(lambda: BEGAN + timedelta(seconds=next(seconds))) as book:
        session = Session(book)
        for words in _talk(slope):
            if session.utterance([words]).reply.asks:
                session.utterance(["confirm"])
        return list(book.rows())


def _talk(slope: str) -> Iterator[str]:
    dice = random.Random(slope)
    high, start = 99.0, 60.0 * float(slope)
    yield from ("rod in tenths", "benchmark number one at one hundred", "tolerance 0.02 feet", "dig zero below grade")
    yield from ("backsight 4.25 on benchmark number one", "the rod is 25 feet long")
    yield f"line from station zero at elevation {high + start:.2f} falling {slope} percent"
    instrument = 104.25
    for number in range(READINGS_A_DAY):
        if number % SET_UP_EVERY == SET_UP_EVERY - 1:
            yield "check the backsight 4.25"
            yield "foresight 4.25"
            yield "backsight 4.25"
        station = dice.randrange(1, 6000)
        design = high + start - station * float(slope) / 100
        read = max(instrument - design + dice.randrange(-30, 30) / 100, 0.5)
        yield f"reading {read:.2f} at station {station}"
        if number % 25 == 7:
            yield "scratch that"
        if number % 40 == 11:
            yield f"grade rod at station {station}"
    yield "close on the benchmark 4.25"


def _days(told: Sequence[list[Row]], entries: int) -> Iterator[Row]:
    """The days in turn, each a day later; what names an entry of its own day names it where it stands now."""
    before = 0
    for number, day in enumerate(cycle(told)):
        if before >= entries:
            return
        for row in day:
            payload = dict(row.payload)
            if row.kind == "scratch":
                payload["sequence"] += before
            if payload.get("replaces"):
                payload["replaces"] = [None if one is None else one + before for one in payload["replaces"]]
            time = datetime.fromisoformat(row.time) + timedelta(days=number)
            yield row._replace(
                sequence=row.sequence + before,
                time=time.strftime("%Y-%m-%dT%H:%M:%S.%fZ"),
                payload_text=canonical(payload),
            )
        before += len(day)


def _chained(rows: Iterator[Row]) -> Iterator[Row]:
    previous = FIRST_PREVIOUS
    for row in rows:
        whole = row._replace(previous=previous)
        previous = chain_hash(*whole[:-1])
        yield whole._replace(hash=previous)
