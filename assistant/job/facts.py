"""What the entries of a book add up to: facts, and what follows from them at once."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, field
from fractions import Fraction

from assistant.book.errors import UNFIT, UnfitEntry
from assistant.grade import levels
from assistant.job.records import (
    Levels,
    Question,
    ReadingRecord,
    ThreePoints,
    Written,
    decode_place,
    decode_question,
    feet,
)
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


@dataclass
class Facts:
    """What the entries of a book add up to."""

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
            return decode_question(self.asked_by.payload)
        except UNFIT as trouble:
            raise UnfitEntry(self.asked_by.sequence) from trouble

    @property
    def below_grade(self) -> SetBelow | None:
        """How far below grade the digging ends, where it does not end on it."""
        return SetBelow(self.below) if self.below is not None and self.below.amount else None

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
