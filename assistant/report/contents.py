"""Everything that a report tells, from the rows of a book: the fold shown, nothing added."""

from __future__ import annotations

import tomllib
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
from assistant.report.levels import LevelNotes, level_notes
from assistant.report.lines import Line, lines
from assistant.report.survey import Run, between, runs
from assistant.report.talk import Correction, Exchange, cautions, corrections, exchanges
from assistant.report.verdicts import Verdict, verdicts
from grammar.quantities import Marking


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
    earth: list[Earth]
    verdicts: list[Verdict]
    cross: Cross | None
    volume: Volume | None


@dataclass
class Report:
    """A whole report."""

    title: str
    began: str
    ended: str
    entries: int
    counts: dict[str, int]
    readings: list[ReadingLine]
    runs: list[RunReport]
    notes: list[LevelNotes]
    sections: list[Section]
    corrections: list[Correction]
    exchanges: list[Exchange]
    cautions: list[tuple[int, str, str]]
    replies: dict[int, str]
    audio: int
    last_hash: str
    code: str
    unit: str
    marking: Marking = field(default=Marking.TENTHS)


def contents(rows: Iterable[Row], title: str) -> Report:
    """The report of a book's rows, in order. Raises `DamagedBook` at a payload that cannot be read."""
    every = list(rows)
    scratched = {int(row.payload["sequence"]) for row in every if row.kind == "scratch"}
    by_entry = lines(every, scratched)
    standing = [row for row in every if row.sequence not in scratched and row.kind != "scratch"]
    markings = _markings(every)
    readings = [_reading(row, by_entry[row.sequence], markings[row.sequence]) for row in every if row.kind == "reading"]
    surveyed = runs(standing, lambda entry: by_entry[entry].proven)
    notes = level_notes(standing, {line.sequence: line.station for line in by_entry.values()})
    last = every[-1] if every else None
    marking = markings[last.sequence] if last else Marking.TENTHS
    return Report(
        title=title,
        began=every[0].time if every else "",
        ended=last.time if last else "",
        entries=len(every),
        counts={**_counts(readings), **({"set-ups": sum(one.set_ups for one in notes)} if notes else {})},
        readings=readings,
        runs=[_run(run, number) for number, run in enumerate(surveyed, 1)],
        notes=notes,
        sections=list(_sections(standing, by_entry)),
        corrections=list(corrections(every, by_entry, scratched)),
        exchanges=list(exchanges(every)),
        cautions=list(cautions(every)),
        replies={row.sequence: row.reply for row in every},
        audio=sum(row.audio is not None for row in every),
        last_hash=last.hash if last else "",
        code=code(last.sequence, last.hash) if last else "",
        unit=marking.unit,
        marking=marking,
    )


def _markings(rows: list[Row]) -> dict[int, Marking]:
    """How the rod was marked at each entry."""
    marking, found = Marking.TENTHS, {}
    for row in rows:
        if row.kind == "rod":
            marking = Marking(row.payload["marking"])
        found[row.sequence] = marking
    return found


def _reading(row: Row, line: Line, marking: Marking) -> ReadingLine:
    payload, number = row.payload, row.sequence
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


def _counts(readings: list[ReadingLine]) -> dict[str, int]:
    stand = [reading for reading in readings if reading.line.stands]
    kinds = [reading.grade_kind for reading in stand]
    return {
        "readings": len(stand),
        "on grade": kinds.count("on grade"),
        "to cut": kinds.count("cut"),
        "to fill": kinds.count("fill"),
        "without a grade": kinds.count(""),
        "unproven": sum(not reading.line.proven for reading in stand),
        "taken back": len(readings) - len(stand),
    }


def _run(run: Run, number: int) -> RunReport:
    found, left = run.on_line(run.found()), run.on_line(run.left())
    whens = [("as found", found), ("as left", left)] if found != left else [("as read", left)]
    earth = [earth_of(when, *between(run, points), f"run {number}.{when}") for when, points in whens if len(points) > 1]
    return RunReport(run, number, earth, verdicts(run), cross_of(run), volume_of(run, f"run {number}"))


@cache
def _placed() -> dict[str, Any]:
    return tomllib.loads(files("assistant.report").joinpath("sections.toml").read_text("utf-8"))


def _sections(standing: list[Row], by_entry: dict[int, Line]) -> Iterator[Section]:
    groups = _placed()
    named = {kind for group in groups.values() for kind in group["kinds"]}
    for group in [group for group in groups.values() if "title" in group]:
        told = [(by_entry[row.sequence], row.reply) for row in standing if row.kind in group["kinds"]]
        if told:
            yield Section(group["title"], told)
    rest = [(by_entry[row.sequence], row.reply) for row in standing if row.kind not in named]
    if rest:
        yield Section("Also written", rest)
