"""What the rod should read, and whether what it read is to be believed."""

from __future__ import annotations

from dataclasses import replace
from fractions import Fraction
from typing import TypeVar

from assistant.conversation.phrase import SHOWN_STEP
from assistant.grade import levels, line
from assistant.grade.slope import rise_over_run
from assistant.job import Job, feet
from grammar.meanings import (
    Backsight,
    Baseline,
    CheckSetUp,
    CloseLoop,
    DesignLine,
    Foresight,
    Meaning,
    Reading,
    TurnCheck,
)
from grammar.quantities import Direction, Length, Marking, Slope, Station

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
    return baseline.station is None or _distance(baseline.station) == _distance(design.start)


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


def grade_rod(job: Job, station: Station | None) -> Fraction | None:
    """Feet that the rod reads at `station` where the digging is to end: on grade, or so far below it as was said."""
    on_grade = _on_grade(job, station)
    if on_grade is None or job.below is None:
        return on_grade
    return on_grade + feet(job.below)


def _on_grade(job: Job, station: Station | None) -> Fraction | None:
    """Without a line, the level of the baseline."""
    if job.line is None:
        return None if job.baseline is None else feet(job.baseline.reading)
    start = start_rod(job, job.line)
    if start is None or station is None:
        return None
    return line.grade_rod_at(
        _distance(station),
        start_station=_distance(job.line.start),
        start_rod=start,
        slope=signed_slope(job.line.slope, job.line.direction),
    )


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
        case Baseline() | Backsight() | CheckSetUp() | CloseLoop() | DesignLine() | Foresight():
            return meaning.reading
        case TurnCheck():
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
    if not isinstance(meaning, Reading) or meaning.station is None or job.place is None:
        return False
    here, there = _distance(job.place), _distance(meaning.station)
    return there > here if _walking_down(job) else there < here


def _walking_down(job: Job) -> bool:
    stations = []
    for record in job.readings():
        if record.station is not None and record.station not in stations:
            stations.append(record.station)
        if len(stations) == 2:
            return _distance(stations[0]) < _distance(stations[1])
    return False


def _distance(station: Station) -> Fraction:
    return feet(station.distance)
