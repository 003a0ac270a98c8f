"""The state of a job: the fold of its book's entries. There is no other state to lose."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Mapping
from dataclasses import dataclass, field
from fractions import Fraction
from functools import cached_property
from typing import Any, Protocol

from assistant.exact_json import decode, decode_meaning
from assistant.grade import levels, units
from grammar.meanings import Backsight, Baseline, Benchmark, DesignLine, DesignPlane, Meaning, SetAccuracy, SetBelow
from grammar.quantities import Length, Marking, Station


class Written(Protocol):
    """What the fold needs of a row of the book."""

    @property
    def sequence(self) -> int:
        """Its number in the book, from 1."""

    @property
    def kind(self) -> str:
        """What it is."""

    @property
    def payload(self) -> Mapping[str, Any]:
        """Its content, with exact numbers as text."""

    @property
    def time(self) -> str:
        """When, in UTC, as ISO 8601 writes it."""


@dataclass(frozen=True)
class Question:
    """A question that is open. Nothing of `proposals` is in the book yet.

    `kind` is "confirm" (one proposal, to be confirmed) or "which" (several; one must be named). `attempts` counts
    the answers that did not settle it.
    """

    kind: str
    proposals: tuple[Meaning, ...]
    attempts: int


@dataclass(eq=False)
class ReadingRecord:
    """A reading in the book, and the one before it."""

    row: Written
    before: ReadingRecord | None

    @cached_property
    def payload(self) -> Mapping[str, Any]:
        """The content of its entry."""
        return self.row.payload

    @cached_property
    def reading(self) -> Length:
        """What was read."""
        return decode(Length, self.payload["reading"])

    @cached_property
    def station(self) -> Station | None:
        """Where."""
        data = self.payload["station"]
        return None if data is None else decode(Station, data)

    @cached_property
    def below(self) -> Length | None:
        """How far below grade the digging was to end, if it was."""
        data = self.payload.get("below")
        return None if data is None else decode(Length, data)

    @cached_property
    def grade(self) -> levels.Grade | None:
        """Cut, fill or on grade, if there was a grade to compare with."""
        data = self.payload["grade"]
        return None if data is None else levels.Grade(data["kind"], Fraction(data["amount_ft"]))


def feet(length: Length) -> Fraction:
    """The exact amount of a length in feet."""
    if length.marking is Marking.METRIC:
        return length.amount / units.FOOT_IN_METRES
    return length.amount


@dataclass
class Job:
    """What the book's entries add up to. Changed only by `apply`."""

    marking: Marking | None = None
    rod_length: Length | None = None
    pace: Length | None = None
    tolerance: Length | None = None
    surprise: Length | None = None
    baseline: Baseline | None = None
    benchmark: Benchmark | None = None
    backsight: Backsight | None = None
    loop_from: Benchmark | None = None
    """The benchmark that the levels began with."""
    set_ups: int = 0
    """Backsights since then."""
    line: DesignLine | None = None
    plane: DesignPlane | None = None
    below: Length | None = None
    accuracy: SetAccuracy | None = None
    place_named_by: tuple[Written, str] | None = None
    last_reading: ReadingRecord | None = None
    reading_count: int = 0
    since_set_up: int = 0
    """Readings under the set-up that stands."""
    since_proof: int = 0
    """Readings since the set-up was last known to stand."""
    first_since_proof: Written | None = None
    moved: bool = False
    """Whether the last check of the set-up failed."""
    opened: bool = False
    question: Question | None = None
    _undo: list[tuple[int, str, dict[str, Any]]] = field(default_factory=list)

    @property
    def place(self) -> Station | None:
        """The place last named, read on demand from the entry that named it."""
        if self.place_named_by is None:
            return None
        row, name = self.place_named_by
        data = row.payload[name]
        return None if data is None else decode(Station, data)

    @property
    def below_grade(self) -> SetBelow | None:
        """How far below grade the digging ends, where it does not end on it."""
        return SetBelow(self.below) if self.below is not None and self.below.amount else None

    @classmethod
    def folded(cls, rows: Iterable[Written]) -> Job:
        """Fold rows, in order, from nothing."""
        job = cls()
        for row in rows:
            job.apply(row)
        return job

    def apply(self, row: Written) -> None:
        """Add one entry. Raises `KeyError` for a kind that this version does not know."""
        kind = row.kind
        if kind in _ABOUT_QUESTIONS:
            self.question = _question(row.payload) if kind == "question" else None
            return
        if kind != "place":
            self.question = None
        if kind == "scratch":
            self._take_back(int(row.payload["sequence"]))
            return
        changes = _CHANGES[kind](self, row)
        state = self.__dict__
        self._undo.append((row.sequence, kind, {name: state[name] for name in changes}))
        state.update(changes)

    def last_entry(self) -> tuple[int, str] | None:
        """The sequence and kind of the entry that "scratch that" would take back."""
        for sequence, kind, _ in reversed(self._undo):
            if kind not in _NEVER_SCRATCHED:
                return sequence, kind
        return None

    def readings(self) -> Iterator[ReadingRecord]:
        """The readings that stand, latest first."""
        record = self.last_reading
        while record is not None:
            yield record
            record = record.before

    def height_of_instrument(self) -> Fraction | None:
        """Feet, once a benchmark and a backsight on it are known."""
        if self.benchmark is None or self.backsight is None:
            return None
        return levels.height_of_instrument(feet(self.benchmark.elevation), feet(self.backsight.reading))

    def line_lost_by(self, set_up: Meaning) -> bool:
        """Whether a new set-up leaves the line without a start.

        A line told by elevations outlives a new backsight, a line that starts at the baseline a new reading of it;
        a start reading belongs to the set-up under which it was given.
        """
        line = self.line
        if line is None:
            return False
        match set_up:
            case Backsight():
                return line.elevation is None
            case Baseline(station=place):
                away = place is not None and place != line.start
                return line.reading is not None or line.elevation is not None or away
            case _:
                return False

    def _take_back(self, sequence: int) -> None:
        while self._undo:
            number, _, before = self._undo.pop()
            self.__dict__.update(before)
            if number == sequence:
                return
        raise KeyError(f"entry {sequence} cannot be taken back: it does not stand")


_ABOUT_QUESTIONS = ("question", "dismissed")
_NEVER_SCRATCHED = ("opened", "place")

Changes = dict[str, Any]


def _question(payload: Mapping[str, Any]) -> Question:
    proposals = tuple(decode_meaning(data) for data in payload["proposals"])
    return Question(payload["asks"], proposals, payload["attempts"])


def _length(name: str) -> Callable[[Job, Written], Changes]:
    return lambda job, row: {name: decode(Length, row.payload["length"])}


def _reading(job: Job, row: Written) -> Changes:
    return {
        "last_reading": ReadingRecord(row, job.last_reading),
        "reading_count": job.reading_count + 1,
        "place_named_by": (row, "station"),
        "since_set_up": job.since_set_up + 1,
        "since_proof": job.since_proof + 1,
        "first_since_proof": job.first_since_proof or row,
    }


PROVEN: Changes = {"since_proof": 0, "first_since_proof": None, "moved": False}


def _check(job: Job, row: Written) -> Changes:
    return PROVEN if row.payload["holds"] else {"moved": True}


def _baseline(job: Job, row: Written) -> Changes:
    baseline = decode(Baseline, row.payload)
    return {
        **PROVEN,
        "since_set_up": 0,
        "line": None if job.line_lost_by(baseline) else job.line,
        "baseline": baseline,
        "benchmark": None,
        "backsight": None,
        "place_named_by": (row, "station") if baseline.station else job.place_named_by,
    }


def _benchmark(job: Job, row: Written) -> Changes:
    benchmark = decode(Benchmark, row.payload)
    return {"benchmark": benchmark, "backsight": None, "loop_from": benchmark, "set_ups": 0}


def _backsight(job: Job, row: Written) -> Changes:
    backsight = decode(Backsight, row.payload)
    return {
        **PROVEN,
        "since_set_up": 0,
        "line": None if job.line_lost_by(backsight) else job.line,
        "backsight": backsight,
        "baseline": None,
        "set_ups": job.set_ups + 1,
    }


def _foresight(job: Job, row: Written) -> Changes:
    """A turning point is the next known point; until there is a backsight on it, nothing can be read."""
    point = Benchmark(decode(Length, row.payload["elevation"]), None)
    return {"benchmark": point, "backsight": None}


def _line(job: Job, row: Written) -> Changes:
    line = decode(DesignLine, row.payload)
    return {"line": line, "plane": None, "place_named_by": (row, "start")}


_CHANGES: dict[str, Callable[[Job, Written], Changes]] = {
    "opened": lambda job, row: {"opened": True},
    "rod": lambda job, row: {"marking": Marking(row.payload["marking"])},
    "rod length": _length("rod_length"),
    "pace": _length("pace"),
    "tolerance": _length("tolerance"),
    "surprise": _length("surprise"),
    "below": _length("below"),
    "baseline": _baseline,
    "benchmark": _benchmark,
    "backsight": _backsight,
    "foresight": _foresight,
    "close": lambda job, row: {},
    "accuracy": lambda job, row: {"accuracy": decode(SetAccuracy, row.payload)},
    "turn check": lambda job, row: {},
    "check": _check,
    "line": _line,
    "plane": lambda job, row: {"plane": decode(DesignPlane, row.payload), "line": None},
    "place": lambda job, row: {"place_named_by": (row, "station")},
    "reading": _reading,
}
