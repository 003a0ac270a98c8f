"""Everything that a report tells, from the rows of a book: the fold shown, nothing added."""

from __future__ import annotations

import tomllib
from collections import deque
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass, field, replace
from fractions import Fraction
from functools import cache
from importlib.resources import files
from typing import Any

from assistant.book.code import code
from assistant.book.entries import Row
from assistant.report.amounts import Amount, computed, said
from assistant.report.earth import Cross, Earth, Volume, cross_of, earth_of, volume_of
from assistant.report.levels import KINDS, LevelNotes, level_notes
from assistant.report.lines import Line, Rows, Standing, held
from assistant.report.survey import Run, between, each_run
from assistant.report.talk import Correction, Exchange, cautions, corrections, exchanges
from assistant.report.verdicts import Verdict, verdicts
from grammar.quantities import Marking

PICTURED = 20
"""Designs that have pictures, the last of the job: each takes a second to draw and half a megabyte. Our own choice."""


@dataclass(frozen=True)
class ReadingLine:
    """A reading as the report shows it."""

    line: Line
    reading: Amount
    grade_rod: Amount | None
    grade: Amount | None
    grade_kind: str
    elevation: Amount | None


@dataclass(frozen=True)
class Section:
    """Entries of one sort, each with the reply that told it."""

    title: str
    lines: list[tuple[Line, str]]


@dataclass(frozen=True)
class RunReport:
    """One design and what was read against it."""

    run: Run
    number: int
    ordinal: int
    """Its number among those that are shown; 0 where it is the only one."""
    shown: bool
    """Whether there is more to tell of it than a reading."""
    pictured: bool
    earth: list[Earth]
    verdicts: list[Verdict]
    cross: Cross | None
    volume: Volume | None


@dataclass
class Report:
    """A whole report, or a page of one.

    What is told of single entries is read from the book while it is walked, and can be walked once; the counts are
    whole after that.
    """

    title: str
    began: str
    ended: str
    entries: int
    counts: dict[str, int]
    runs: Iterable[RunReport]
    readings: Iterable[ReadingLine]
    notes: Iterable[LevelNotes]
    sections: Iterable[Section]
    corrections: Iterable[Correction]
    exchanges: Iterable[Exchange]
    cautions: Iterable[tuple[int, str, str]]
    audio: int
    last_hash: str
    code: str
    unit: str
    marking: Marking = field(default=Marking.TENTHS)


LISTS = ("runs", "readings", "notes", "sections", "corrections", "exchanges", "cautions")
"""What a report tells, in the order of the page."""


def contents(rows: Iterable[Row], title: str) -> Report:
    """The report of a book's rows, in order, all at hand. Raises `DamagedBook` at a payload that cannot be read."""
    report = told(held(list(rows)), title)
    every: dict[str, Any] = {name: list(getattr(report, name)) for name in LISTS}
    return replace(report, **every | {"sections": joined(every["sections"])})


def joined(sections: Iterable[Section]) -> list[Section]:
    """The lines of one title in one section."""
    by_title: dict[str, list[tuple[Line, str]]] = {}
    for section in sections:
        by_title.setdefault(section.title, []).extend(section.lines)
    return [Section(title, lines) for title, lines in by_title.items()]


def told(rows: Rows, title: str) -> Report:
    """The report of a book that is walked as the report is read. Raises `DamagedBook`, then too."""
    first, last, entries, audio = None, None, 0, 0
    kinds: set[str] = set()
    for row in rows():
        first, last, entries, audio = first or row, row, entries + 1, audio + (row.audio is not None)
        kinds.add(row.kind)
    standing = Standing.of(rows)
    adjusted = [row.payload["by_distance"] for row in standing.among(rows("adjustment"))]
    marking = Marking([row.payload["marking"] for row in rows("rod")][-1]) if "rod" in kinds else Marking.TENTHS
    counts = dict.fromkeys(
        ("readings", "on grade", "to cut", "to fill", "without a grade", "unproven", "taken back"), 0
    )
    notes = level_notes(standing.among(rows(*KINDS)), by_distance=bool(adjusted and adjusted[-1]))
    return Report(
        title=title,
        began=first.time if first else "",
        ended=last.time if last else "",
        entries=entries,
        counts=counts,
        runs=_runs(each_run(standing.among(rows()), lambda entry: entry not in standing.doubtful)),
        readings=_readings(rows("rod", "reading"), standing, counts),
        notes=_notes(notes, counts),
        sections=_sections(rows, kinds, standing),
        corrections=corrections(rows, standing),
        exchanges=exchanges(rows()),
        cautions=cautions(rows()),
        audio=audio,
        last_hash=last.hash if last else "",
        code=code(last.sequence, last.hash) if last else "",
        unit=marking.unit,
        marking=marking,
    )


def _readings(rows: Iterator[Row], standing: Standing, counts: dict[str, int]) -> Iterator[ReadingLine]:
    """Every reading, as the rod was marked then; counted as it is told."""
    marking = Marking.TENTHS
    names = {"on grade": "on grade", "cut": "to cut", "fill": "to fill", "": "without a grade"}
    for row in rows:
        if row.kind == "rod":
            marking = Marking(row.payload["marking"])
            continue
        payload = row.payload
        reading = _reading(payload, standing.line(row, payload), marking)
        if reading.line.stands:
            counts["readings"] += 1
            counts["unproven"] += not reading.line.proven
            if reading.grade_kind in names:
                counts[names[reading.grade_kind]] += 1
        else:
            counts["taken back"] += 1
        yield reading


def _notes(every: Iterator[LevelNotes], counts: dict[str, int]) -> Iterator[LevelNotes]:
    for notes in every:
        counts["set-ups"] = counts.get("set-ups", 0) + notes.set_ups
        yield notes


def _reading(payload: Mapping[str, Any], line: Line, marking: Marking) -> ReadingLine:
    number = line.sequence
    rod, grade, elevation = payload.get("grade_rod_ft"), payload.get("grade"), payload.get("elevation_ft")
    return ReadingLine(
        line,
        said(payload["reading"], f"{number}.reading"),
        None if rod is None else computed(Fraction(rod), marking, f"{number}.grade_rod"),
        None if grade is None else _result(grade, marking, number),
        "" if grade is None else grade["kind"],
        None if elevation is None else computed(Fraction(elevation), marking, f"{number}.elevation"),
    )


def _result(grade: Mapping[str, str], marking: Marking, entry: int) -> Amount:
    amount = computed(Fraction(grade["amount_ft"]), marking, f"{entry}.grade")
    kind = grade["kind"]
    return replace(amount, shown=kind if kind == "on grade" else f"{kind} {amount.shown}")


def _runs(every: Iterable[Run]) -> Iterator[RunReport]:
    """The runs in order, of which the last are pictured: no more are held than those."""
    waiting: deque[Run] = deque()
    number = shown = held_back = 0

    def next_one(*, pictured: bool) -> RunReport:
        nonlocal number, shown, held_back
        run, number = waiting.popleft(), number + 1
        told = _is_shown(run)
        several = shown + held_back > 1
        shown, held_back = shown + told, held_back - told
        return _run(run, number, shown if told and several else 0, shown=told, pictured=pictured)

    for run in every:
        waiting.append(run)
        held_back += _is_shown(run)
        while held_back > PICTURED:
            yield next_one(pictured=False)
    while waiting:
        yield next_one(pictured=True)


def _is_shown(run: Run) -> bool:
    """Whether there is more to tell of it than a reading."""
    left = run.left()
    beside = len({point.offset for point in left}) > 1
    judged = run.job.tolerance is not None and any(point.high is not None for point in left)
    return beside or judged or len(run.on_line(left)) > 1


def _run(run: Run, number: int, ordinal: int, *, shown: bool, pictured: bool) -> RunReport:
    found, left = run.on_line(run.found()), run.on_line(run.left())
    whens = [("as found", found), ("as left", left)] if found != left else [("as read", left)]
    earth = [earth_of(when, *between(run, points), f"run {number}.{when}") for when, points in whens if len(points) > 1]
    volume = volume_of(run, f"run {number}")
    return RunReport(run, number, ordinal, shown, pictured, earth, verdicts(run), cross_of(run), volume)


@cache
def _placed() -> dict[str, Any]:
    return tomllib.loads(files("assistant.report").joinpath("sections.toml").read_text("utf-8"))


def _sections(rows: Rows, kinds: set[str], standing: Standing) -> Iterator[Section]:
    """A section for each line; those of one title follow each other."""
    groups = _placed().values()
    rest = kinds - {kind for group in groups for kind in group["kinds"]}
    for title, wanted in [*((g["title"], g["kinds"]) for g in groups if "title" in g), ("Also written", sorted(rest))]:
        here = [kind for kind in wanted if kind in kinds]
        for row in standing.among(rows(*here)) if here else ():
            yield Section(title, [(standing.line(row), row.reply)])
