"""What the rod should read, and whether what it read is to be believed."""

from __future__ import annotations

from dataclasses import replace
from fractions import Fraction
from typing import TypeVar

from assistant.grade import blunders, levels, profile, sizes
from assistant.grade.slope import rise_over_run
from assistant.job import walk
from assistant.job.records import feet
from assistant.job.state import Job
from grammar.meanings import (
    Backsight,
    Baseline,
    BeamCheck,
    BlueTop,
    Catch,
    CheckBenchmark,
    CheckSetUp,
    CloseLoop,
    DesignLine,
    Drop,
    Foresight,
    Meaning,
    PegTest,
    PlanePoint,
    Reading,
    Stake,
    TurnCheck,
)
from grammar.quantities import Across, Direction, Length, Marking, Place, Side, Slope, Station
from grammar.spoken import SHOWN_STEP

M = TypeVar("M")

USUAL_ROD = {
    Marking.INCHES: Length(Fraction(25), Marking.INCHES, Fraction(1)),
    Marking.TENTHS: Length(Fraction(25), Marking.TENTHS, Fraction(1)),
    Marking.METRIC: Length(Fraction(5), Marking.METRIC, Fraction(1)),
}
"""The rod assumed until its length is said. Common practice, no source."""

USUAL_SURPRISE = {
    Marking.INCHES: Length(Fraction(3), Marking.INCHES, Fraction(1)),
    Marking.TENTHS: Length(Fraction(3), Marking.TENTHS, Fraction(1)),
    Marking.METRIC: Length(Fraction(1), Marking.METRIC, Fraction(1)),
}
"""How far from expected a reading may be before it is asked back. Our own choice; a sentence changes it."""


def rod_length(job: Job) -> Length:
    """The length of the rod, as said or as usual."""
    return job.rod_length or USUAL_ROD[job.marking or Marking.TENTHS]


def surprise(job: Job) -> Length:
    """How far from expected a reading may be before it is asked back."""
    return job.surprise or USUAL_SURPRISE[job.marking or Marking.TENTHS]


def signed_slope(slope: Slope | None, direction: Direction) -> Fraction:
    """Rise over run along the stations: a fall is negative."""
    if slope is None or direction is Direction.LEVEL:
        return Fraction(0)
    steepness = rise_over_run(slope.amount, slope.unit.value)
    return -steepness if direction is Direction.FALLING else steepness


CHECK_TOLERANCE = {
    Marking.INCHES: Length(Fraction(1, 96), Marking.INCHES, Fraction(1, 96)),
    Marking.TENTHS: Length(Fraction(1, 100), Marking.TENTHS, Fraction(1, 100)),
    Marking.METRIC: Length(Fraction(3, 1000), Marking.METRIC, Fraction(1, 1000)),
}
"""How far a set-up may be off when it is read again: about what one reading is good to. Common practice, no source."""


def check_tolerance_ft(job: Job) -> Fraction:
    """Feet within which a set-up that is read again still stands: the tolerance of the job, or as usual."""
    return feet(job.tolerance or CHECK_TOLERANCE[job.marking or Marking.TENTHS])


def starts_at_baseline(design: DesignLine, baseline: Baseline) -> bool:
    """Whether a line without a start of its own starts where the baseline was read."""
    at = baseline.station
    return at is None or (isinstance(at, Station) and at.offset is None and _distance(at) == _distance(design.start))


def start_rod(job: Job, design: DesignLine) -> Fraction | None:
    """Feet that the rod reads, on grade, at the start of a line; none where the set-up does not tell."""
    if design.reading is not None:
        return feet(design.reading)
    if design.elevation is not None:
        instrument = job.height_of_instrument()
        if instrument is None:
            return None
        return levels.grade_rod(instrument, feet(design.elevation))
    if job.baseline is not None and starts_at_baseline(design, job.baseline):
        return feet(job.baseline.reading)
    return None


def grade_rod(job: Job, place: Place | None) -> Fraction | None:
    """Feet that the rod reads at `place` where the digging is to end: on grade, or so far below it as was said."""
    on_grade = rod_on_grade(job, place)
    if on_grade is None or job.below is None:
        return on_grade
    return on_grade + feet(job.below)


def rod_on_grade(job: Job, place: Place | None) -> Fraction | None:
    """Feet that the rod reads on grade. Without a line, the level of the baseline; on one, only along it or beside."""
    if job.line is None:
        return None if job.baseline is None else feet(job.baseline.reading)
    start = start_rod(job, job.line)
    if start is None or not isinstance(place, Station):
        return None
    return start - rise(job, job.line, place)


def rise(job: Job, design: DesignLine, place: Station) -> Fraction:
    """Height of the design at a place over the start of its line."""
    slope = signed_slope(design.slope, design.direction)
    along = profile.rise_at(_distance(place), _distance(design.start), slope, changes(job))
    return along + _across(job, place)


def changes(job: Job) -> tuple[profile.Change, ...]:
    """The bends and drops of the line."""
    return tuple(
        profile.Change(_distance(change.station), None, feet(change.length))
        if isinstance(change, Drop)
        else profile.Change(_distance(change.station), signed_slope(change.slope, change.direction), Fraction(0))
        for change in job.changes
    )


def slope_after(job: Job, station_ft: Fraction) -> Fraction:
    """The slope with which the line goes on from a station. There must be a line."""
    assert job.line is not None
    slope = signed_slope(job.line.slope, job.line.direction)
    for change in changes(job):
        if change.station <= station_ft and change.slope is not None:
            slope = change.slope
    return slope


def step_down(job: Job, place: Place | None) -> Fraction:
    """Feet by which the line drops right at `place`; grade is counted before it."""
    return profile.drop_at(_distance(place), changes(job)) if isinstance(place, Station) else Fraction(0)


def apart(one: Station, other: Station) -> Fraction:
    """Feet between two places along and beside a line, as exact as a float where they are askew."""
    along = abs(_distance(one) - _distance(other))
    beside = abs(offset_left(one) - offset_left(other))
    return sizes.diagonal(along, beside)


def offset_left(place: Station) -> Fraction:
    """Feet to the left of the line; to the right they are negative."""
    if place.offset is None:
        return Fraction(0)
    away = feet(place.offset.distance)
    return away if place.offset.side is Side.LEFT else -away


def _across(job: Job, place: Station) -> Fraction:
    if job.across is None or job.across.slope is None:
        return Fraction(0)
    steep = rise_over_run(job.across.slope.amount, job.across.slope.unit.value)
    left, right = {
        Across.LEFT: (-steep, steep),
        Across.RIGHT: (steep, -steep),
        Across.CROWN: (-steep, -steep),
        Across.SWALE: (steep, steep),
    }[job.across.across or Across.LEFT]
    return profile.across(offset_left(place), left, right)


def off_the_rod(job: Job, meaning: Meaning) -> Length | None:
    """The reading within `meaning` that no rod of this length can show, if there is one."""
    reading = read_on_rod(meaning)
    if reading is not None and feet(reading) > feet(rod_length(job)):
        return reading
    return None


def read_on_rod(meaning: Meaning) -> Length | None:
    """The length within `meaning` that was read on the rod."""
    match meaning:
        case Reading():
            return meaning.length
        case Baseline() | Backsight() | CheckSetUp() | CheckBenchmark() | CloseLoop() | DesignLine() | Foresight():
            return meaning.reading
        case PlanePoint() | Stake() | BlueTop() | Catch():
            return meaning.reading
        case TurnCheck() | PegTest() | BeamCheck():
            return max(meaning.first, meaning.second, key=feet)
        case _:
            return None


def unexpected(job: Job, meaning: Meaning) -> Fraction | None:
    """Feet by which a reading is above (+) or below (-) expected, where that is too much to be believed."""
    if not isinstance(meaning, Reading):
        return None
    expected = grade_rod(job, meaning.station or job.place)
    if expected is None:
        return None
    off = feet(meaning.length) - expected
    return off if abs(off) > feet(surprise(job)) else None


WHOLE_FOOT = Fraction(1, 50)
"""Feet within which a miss of whole feet is taken for a slip of the rod: a foot misread, or a section not pulled out.
Common practice, no source; the skipped section is check H14."""


def whole_feet_off(job: Job, meaning: Meaning) -> int:
    """The whole feet by which a reading misses what is expected, if it misses by just that; else 0."""
    if not isinstance(meaning, Reading) or Marking.METRIC in (job.marking, meaning.length.marking):
        return 0
    expected = grade_rod(job, meaning.station or job.place)
    if expected is None:
        return 0
    off = abs(feet(meaning.length) - expected)
    whole = round(off)
    return whole if abs(off - whole) <= WHOLE_FOOT else 0


SLIP_WITHIN = Fraction(1, 100)
"""Feet within which a slip explains a reading; no more than the tolerance. Our own choice: wider asks too often."""


def slip(job: Job, meaning: Reading) -> str | None:
    """A slip that would explain why a reading is not the expected one: read otherwise, or the slope walked up."""
    place = meaning.station or job.place
    expected = grade_rod(job, place)
    reading = feet(meaning.length)
    if expected is None or Marking.METRIC in (job.marking, meaning.length.marking):
        return None
    within = min(tolerance_ft(job), SLIP_WITHIN)
    if abs(reading - expected) <= max(tolerance_ft(job), WHOLE_FOOT):
        return None
    likely = blunders.slips(reading, meaning.length.step, tenths=meaning.length.marking is Marking.TENTHS)
    found = blunders.explained(likely, expected, within)
    if found is not None:
        return found.name
    if job.line is not None and isinstance(place, Station):
        mirrored = expected + 2 * rise(job, job.line, place)
        if abs(reading - mirrored) <= within:
            return "slope reversed"
    return None


def other_marking(job: Job, meaning: Meaning) -> Length | None:
    """A reading said in another unit than the rod's."""
    reading = read_on_rod(meaning)
    if reading is None or job.marking is None or reading.marking is job.marking:
        return None
    return None if reading.amount.denominator == 1 and _both_feet(job, reading) else reading


def placed(job: Job, meaning: M) -> M:
    """The same, with the place that it is about where none was said: the place last named."""
    if isinstance(meaning, Reading) and meaning.station is None:
        return replace(meaning, station=job.place)
    return meaning


def plausible(job: Job, rival: Meaning, heard: Meaning) -> bool:
    """Whether `rival`, which sounds like the sentence heard, could be what was said here.

    A place behind the last one is unlikely only where the place heard is not behind it too.
    """
    return (
        off_the_rod(job, rival) is None
        and unexpected(job, rival) is None
        and other_marking(job, rival) is None
        and (_goes_back(job, heard) or not _goes_back(job, rival))
    )


def tolerance_ft(job: Job) -> Fraction:
    """Feet within which a reading is on grade: as said, else what is shown as nothing at all."""
    if job.tolerance is not None:
        return feet(job.tolerance)
    marking = job.marking or Marking.TENTHS
    return feet(Length(SHOWN_STEP[marking] / 2, marking, SHOWN_STEP[marking]))


def _both_feet(job: Job, reading: Length) -> bool:
    return Marking.METRIC not in (job.marking, reading.marking)


def _goes_back(job: Job, meaning: Meaning) -> bool:
    if not isinstance(meaning, Reading):
        return False
    if not isinstance(meaning.station, Station) or not isinstance(job.place, Station):
        return False
    return walk.is_back(job, job.place, meaning.station)


def _distance(station: Station) -> Fraction:
    return feet(station.distance)
