"""The state of a job: the fold of its book's entries. There is no other state to lose."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator
from copy import copy
from dataclasses import dataclass, field
from fractions import Fraction
from typing import Any

from assistant import folding
from assistant.book.errors import UNFIT, UnfitEntry
from assistant.grade import levels
from assistant.records import Levels, Question, ReadingRecord, ThreePoints, Written, decode_place, feet
from grammar.meanings import (
    Backsight,
    Baseline,
    Benchmark,
    Bend,
    DesignLine,
    DesignPlane,
    Drop,
    Meaning,
    PegTest,
    PlanePoint,
    SetAccuracy,
    SetAcross,
    SetAllowance,
    SetBelow,
    SetOrder,
    SetPipe,
    SetRange,
    SetSlopeStakes,
    SteepestPlane,
)
from grammar.quantities import Distance, Length, Marking, Place

Done = tuple[Written, dict[str, Any]]
"""An entry that stands, and what was there before it of all that it changed."""


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
    """The known point last named: the next backsight is on it, if it names no other."""
    backsight: Backsight | None = None
    under: Benchmark | None = None
    """The benchmark on which the backsight was read."""
    benchmarks: tuple[Benchmark, ...] = ()
    """Those with a number, latest last."""
    allowance: SetAllowance | SetOrder | None = None
    loop_length: Length | None = None
    loop_from: Benchmark | None = None
    """The benchmark that the levels began with."""
    set_ups: int = 0
    """Backsights since then."""
    levels: Levels = field(default_factory=Levels)
    by_distance: bool = False
    """Whether a misclosure is shared out by the length of the sights, and not equally."""
    laser_class: str | None = None
    line: DesignLine | None = None
    changes: tuple[Bend | Drop, ...] = ()
    """Where the line goes on otherwise, in the order of the stations."""
    across: SetAcross | None = None
    plane: DesignPlane | SteepestPlane | ThreePoints | None = None
    plane_points: tuple[PlanePoint, ...] = ()
    """Points of a plane that has not got three yet."""
    below: Length | None = None
    pipe: SetPipe | None = None
    boards: Length | None = None
    slope_stakes: SetSlopeStakes | None = None
    bulking: Fraction | None = None
    load: Fraction | None = None
    trip: int | None = None
    """Minutes of a truck's round trip."""
    accuracy: SetAccuracy | None = None
    receiver: Length | None = None
    sight: Distance | None = None
    range: SetRange | None = None
    paced: bool | None = None
    """Whether the stations are paced, or taped, where it was said."""
    peg_middle: PegTest | None = None
    """The set-up in the middle of a two-peg test that waits for its second."""
    place_named_by: tuple[Written, str] | None = None
    last_reading: ReadingRecord | None = None
    reading_count: int = 0
    since_set_up: int = 0
    """Readings under the set-up that stands."""
    since_design: int = 0
    """Readings compared with the design that holds."""
    since_proof: int = 0
    """Readings since the set-up was last known to stand."""
    first_since_proof: Written | None = None
    moved: bool = False
    """Whether the last check of the set-up failed."""
    opened: bool = False
    asked_by: Written | None = None
    """The entry whose question is open."""
    _undo: list[Done] = field(default_factory=list)
    _earlier: Callable[[], list[Done]] | None = None
    """What is below `_undo`, where it was not folded yet: most talks never take back what is that old."""

    @property
    def place(self) -> Place | None:
        """The place last named, read on demand from the entry that named it."""
        if self.place_named_by is None:
            return None
        row, name = self.place_named_by
        try:
            return decode_place(row.payload[name])
        except UNFIT as trouble:
            raise UnfitEntry(row.sequence) from trouble

    @property
    def question(self) -> Question | None:
        """The question that is open, read on demand: most are settled by the entry after them."""
        if self.asked_by is None:
            return None
        try:
            return folding.question(self.asked_by.payload)
        except UNFIT as trouble:
            raise UnfitEntry(self.asked_by.sequence) from trouble

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
        """Add one entry. Raises `KeyError` for an unknown kind, `UnfitEntry` where it does not hold what it should."""
        if row.kind not in folding.KINDS:
            raise KeyError(row.kind)
        try:
            self._apply(row)
        except UNFIT as trouble:
            raise UnfitEntry(row.sequence) from trouble

    def _apply(self, row: Written) -> None:
        kind = row.kind
        if kind in folding.ABOUT_QUESTIONS:
            self.asked_by = row if kind == "question" else None
            return
        if kind != "place":
            self.asked_by = None
        if kind == "scratch":
            self._take_back(int(row.payload["sequence"]))
            return
        self._change(row)

    def last_entry(self) -> Written | None:
        """The entry that "scratch that" would take back."""
        return next((row for row in self._done() if row.kind not in folding.NEVER_SCRATCHED), None)

    def standing(self, sequence: int) -> Written:
        """An entry that stands. Raises `StopIteration` where it does not."""
        found: Written = next(row for row in self._done() if row.sequence == sequence)
        return found

    def without(self, sequence: int | None) -> Job:
        """The job as it would be without one entry, if one is named. Raises `KeyError` where that does not stand."""
        if sequence is None:
            return self
        if all(row.sequence != sequence for row, _ in self._undo):
            self._recall()
        other = copy(self)
        other._undo = list(self._undo)
        other._take_back(sequence)
        return other

    def readings(self) -> Iterator[ReadingRecord]:
        """The readings that stand, latest first."""
        record = self.last_reading
        while record is not None:
            yield record
            record = record.before

    def height_of_instrument(self) -> Fraction | None:
        """Feet, once a benchmark and a backsight on it are known."""
        if self.under is None or self.backsight is None:
            return None
        return levels.height_of_instrument(feet(self.under.elevation), feet(self.backsight.reading))

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

    def let_go(self) -> None:
        """Forget what only taking back and looking back need: for a walk over nothing but entries that stand."""
        self._undo = []
        if self.last_reading is not None:
            self.last_reading.earlier = None

    def resumed(self, earlier: Callable[[], list[Done]]) -> None:
        """Take what was done up to now from `earlier`, once it is asked for: the `done` of a job like this."""
        self._undo, self._earlier = [], earlier

    @property
    def done(self) -> list[Done]:
        """Every entry that stands, in order, and what was there before it."""
        self._recall()
        return self._undo

    @property
    def reaches_back(self) -> bool:
        """Whether all that was ever done is at hand."""
        return self._earlier is None

    def _done(self) -> Iterator[Written]:
        """The entries that stand, latest first."""
        yield from (row for row, _ in reversed(self._undo))
        if self._earlier is not None:
            known = len(self._undo)
            self._recall()
            yield from (row for row, _ in reversed(self._undo[: len(self._undo) - known]))

    def _recall(self) -> None:
        if self._earlier is not None:
            self._undo = [*self._earlier(), *self._undo]
            self._earlier = None

    def _change(self, row: Written) -> None:
        changes = folding.CHANGES[row.kind](self, row)
        state = self.__dict__
        self._undo.append((row, {name: state[name] for name in changes}))
        state.update(changes)

    def _take_back(self, sequence: int) -> None:
        """Undo an entry; those after it are done again, but for places that were only asked about since."""
        later: list[Written] = []
        while self._undo or self.done:
            row, before = self._undo.pop()
            self.__dict__.update(before)
            if row.sequence == sequence:
                if any(one.kind not in folding.NEVER_SCRATCHED for one in later):
                    for one in reversed(later):
                        self._change(one)
                return
            later.append(row)
        raise KeyError(f"entry {sequence} cannot be taken back: it does not stand")
