"""The design along a line: where it starts, bends, steps down and branches, and how it lies across."""

from __future__ import annotations

from fractions import Fraction

from assistant.conversation import sloping
from assistant.grade import profile, units
from assistant.job import expect
from assistant.job.records import feet
from assistant.job.state import Job
from assistant.wording.phrase import computed, length, phrase, slope, station
from assistant.wording.said import Said
from grammar.meanings import AskMeeting, Bend, Branch, DesignLine, Drop, SetAcross
from grammar.quantities import Length, Marking, Place, Station

CHANGE = Bend | Drop | SetAcross

PLACE_STEP = Fraction(1, 100)
"""Feet or metres to which a computed place is rounded."""


def refusal(job: Job, meaning: CHANGE | Branch) -> Said | None:
    """Why the line cannot be changed so, if it cannot."""
    if job.line is None:
        return phrase("no line")
    match meaning:
        case Branch():
            return phrase("no grade known") if expect.rod_on_grade(job, meaning.station) is None else None
        case Bend() | Drop():
            if isinstance(meaning, Drop) and meaning.length.amount == 0:
                return phrase("zero length", what="drop")
            last = job.changes[-1].station if job.changes else job.line.start
            if feet(meaning.station.distance) < feet(last.distance):
                return phrase("not further on", station=station(meaning.station), last=station(last))
        case SetAcross():
            return None
    return None


def branched(job: Job, branch: Branch) -> DesignLine:
    """The new line of a branch: it starts at station zero, at the grade of the old line."""
    old = job.line
    assert old is not None
    metric = branch.station.distance.marking is Marking.METRIC
    start = Station(Length(Fraction(0), Marking.METRIC if metric else Marking.TENTHS, Fraction(1)))
    if old.elevation is not None:
        height = feet(old.elevation) + expect.rise(job, old, branch.station)
        at = computed(job, height, old.elevation.marking)
        return DesignLine(start, None, at, branch.direction, branch.slope)
    rod = expect.rod_on_grade(job, branch.station)
    assert rod is not None
    return DesignLine(start, computed(job, rod), None, branch.direction, branch.slope)


def read_back(meaning: DesignLine | CHANGE) -> Said:
    """What was understood."""
    match meaning:
        case DesignLine():
            return _line(meaning)
        case Bend():
            return phrase("bend", station=station(meaning.station), run=sloping.run(meaning.slope, meaning.direction))
        case Drop():
            return phrase("drop", station=station(meaning.station), drop=length(meaning.length))
        case SetAcross():
            if meaning.slope is None or meaning.across is None:
                return phrase("level across")
            return phrase(f"across {meaning.across.value}", slope=slope(meaning.slope))


def beside(job: Job, place: Place | None) -> list[Said]:
    """What must be known of a grade at a place: that the line steps down there, or that nothing is said of across."""
    parts = []
    down = expect.step_down(job, place)
    if down:
        parts.append(phrase("steps down here", drop=length(computed(job, down))))
    if isinstance(place, Station) and place.offset is not None and job.line is not None and job.across is None:
        parts.append(phrase("as if level across"))
    return parts


def meeting(job: Job, meaning: AskMeeting) -> Said:
    """Where the line of the job meets another one that is walked the same way."""
    if job.line is None:
        return phrase("no line")
    other = meaning.other
    start = expect.start_rod(job, other)
    here = expect.rod_on_grade(job, other.start)
    if start is None or here is None:
        return phrase("no grade known")
    beyond = [change for change in expect.changes(job) if change.station > feet(other.start.distance)]
    at = feet(other.start.distance)
    slope_here = expect.slope_after(job, at)
    height = Fraction(0)
    theirs = expect.signed_slope(other.slope, other.direction)
    for change in [*beyond, None]:
        far = profile.meeting(here - start - height, slope_here, theirs)
        ends = None if change is None else change.station
        if far is not None and far >= 0 and (ends is None or at + far <= ends):
            return _met(job, at + far)
        if change is None:
            break
        height += (slope_here - theirs) * (change.station - at) - change.drop
        slope_here, at = slope_here if change.slope is None else change.slope, change.station
    return phrase("never meet")


def _met(job: Job, at: Fraction) -> Said:
    metric = job.marking is Marking.METRIC
    along = at * units.FOOT_IN_METRES if metric else at
    place = Station(Length(along, Marking.METRIC if metric else Marking.TENTHS, PLACE_STEP))
    rod = expect.rod_on_grade(job, Station(Length(at, Marking.TENTHS, PLACE_STEP)))
    assert rod is not None
    return phrase("they meet", station=station(place), reading=length(computed(job, rod)))


def _line(design: DesignLine) -> Said:
    start, run = station(design.start), sloping.run(design.slope, design.direction)
    if design.reading is not None:
        return phrase("line reading", station=start, reading=length(design.reading), run=run)
    if design.elevation is not None:
        return phrase("line elevation", station=start, elevation=length(design.elevation), run=run)
    return phrase("line", station=start, run=run)
