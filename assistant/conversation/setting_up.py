"""What a sentence that sets up the job writes, and how it is read back."""

from __future__ import annotations

from collections.abc import Mapping
from fractions import Fraction
from typing import Any

from assistant.book.entries import Entry
from assistant.book.exact_json import encode
from assistant.conversation import closing, designing, lasers, levelling, piping, sharing, sloping
from assistant.conversation.turn import Turn
from assistant.job import expect
from assistant.job.kinds import NAMES, SETTING_UP
from assistant.job.records import feet
from assistant.job.state import Job
from assistant.wording.phrase import bank, decimal, length, phrase, reply, slope, station
from assistant.wording.said import Said
from grammar.meanings import (
    Backsight,
    Baseline,
    Benchmark,
    Bend,
    DesignLine,
    DesignPlane,
    Drop,
    Foresight,
    Meaning,
    PlanePoint,
    SetAccuracy,
    SetAcross,
    SetAdjustment,
    SetAllowance,
    SetBelow,
    SetBoards,
    SetBulking,
    SetDistances,
    SetLaserClass,
    SetLoad,
    SetLoopLength,
    SetOrder,
    SetPace,
    SetPipe,
    SetRange,
    SetReceiver,
    SetRod,
    SetRodLength,
    SetSight,
    SetSights,
    SetSlopeStakes,
    SetSurprise,
    SetTolerance,
    SetTrip,
    SteepestPlane,
)

TALL_ROD = Fraction(15)
"""Feet of rod from which overhead lines are named: a rod this long reaches them. Our own choice."""


def refusal(job: Job, meaning: Meaning) -> Said | None:
    """Why this cannot be set up as things stand, if it cannot."""
    zero = _zero(meaning)
    if zero is not None:
        return phrase("zero length", what=zero)
    match meaning:
        case DesignPlane() | SteepestPlane():
            return sloping.refusal(meaning)
        case PlanePoint():
            plane = sloping.with_point(job, meaning)
            return None if plane is None else sloping.refusal(plane)
        case Foresight():
            return levelling.refusal(job, meaning)
        case Backsight():
            return levelling.no_benchmark(job, meaning)
        case Bend() | Drop() | SetAcross():
            return designing.refusal(job, meaning)
        case SetSights():
            return sharing.refusal(job, meaning)
        case SetLaserClass():
            return lasers.refusal(meaning)
        case SetSight():
            return phrase("pace unknown") if sloping.measured(job, meaning.distance) is None else None
        case DesignLine() if meaning.reading is None and meaning.elevation is None:
            if job.baseline is None:
                return phrase("line without start", station=station(meaning.start))
            if not expect.starts_at_baseline(meaning, job.baseline):
                return phrase("line away from baseline", station=station(meaning.start))
    return None


def _zero(meaning: Meaning) -> str | None:
    """What is zero and cannot be, if anything is."""
    amounts: tuple[Fraction, ...]
    match meaning:
        case SetTolerance() | SetPace() | SetRodLength() | SetSurprise() | SetReceiver() | SetBoards():
            amounts = (meaning.length.amount,)
        case SetAllowance() | SetLoopLength():
            amounts = (meaning.length.amount,)
        case SetAccuracy():
            amounts = (meaning.accuracy.amount, meaning.over.amount)
        case SetPipe():
            amounts = (meaning.inside.amount,)
        case SetRange() | SteepestPlane():
            amounts = (meaning.slope.amount,)
        case SetTrip():
            amounts = (Fraction(meaning.minutes),)
        case SetLoad():
            amounts = (meaning.yards,)
        case _:
            return None
    return None if all(amounts) else NAMES[type(meaning)]


def read_back(job: Job, meaning: SETTING_UP) -> Said:
    """What was understood, as it would be written."""
    match meaning:
        case SetRod():
            return phrase("rod", marking=phrase(f"marking {meaning.marking.value}"))
        case SetBelow() if meaning.length.amount == 0:
            return phrase("to grade")
        case SetBelow() | SetRodLength() | SetPace() | SetSurprise() | SetTolerance() | SetReceiver() | SetBoards():
            return phrase(NAMES[type(meaning)], length=length(meaning.length))
        case Baseline() if meaning.station is None:
            return phrase("baseline", reading=length(meaning.reading))
        case Baseline():
            assert meaning.station is not None
            return phrase("baseline at", reading=length(meaning.reading), station=station(meaning.station))
        case Benchmark():
            name = "benchmark" if meaning.number is None else "benchmark number"
            return phrase(name, elevation=length(meaning.elevation), number=meaning.number or 0)
        case Backsight() | Foresight():
            return levelling.read_back(job, meaning)
        case DesignLine() | Bend() | Drop() | SetAcross():
            return designing.read_back(meaning)
        case DesignPlane() | SteepestPlane():
            return sloping.read_back(job, meaning)
        case PlanePoint():
            return _plane_point(job, meaning)
        case SetPipe():
            return piping.read_back(job, meaning)
        case SetSlopeStakes():
            return phrase("slope stakes", bed=length(meaning.bed), bank=bank(meaning.bank))
        case SetAllowance() | SetOrder() | SetLoopLength():
            return closing.read_back(meaning)
        case SetSights() | SetAdjustment():
            return sharing.read_back(job, meaning)
        case SetLaserClass():
            return phrase("laser class", label=lasers.named(meaning.name))
        case SetAccuracy():
            return phrase("accuracy", accuracy=length(meaning.accuracy), over=length(meaning.over))
        case SetSight():
            return phrase("sight", distance=sloping.said_distance(meaning.distance))
        case SetRange():
            return phrase("range", slope=slope(meaning.slope))
        case SetDistances():
            return phrase("stations paced" if meaning.paced else "stations taped")
        case SetBulking():
            return phrase("shrink" if meaning.percent < 0 else "swell", percent=decimal(abs(meaning.percent)))
        case SetTrip():
            return phrase("trip", minutes=decimal(Fraction(meaning.minutes)))
        case SetLoad():
            return phrase("load", yards=decimal(meaning.yards))


def write(job: Job, meaning: SETTING_UP) -> Turn:
    """Write it down."""
    if isinstance(meaning, Foresight):
        return levelling.write_foresight(job, meaning)
    parts = [read_back(job, meaning), *_consequences(job, meaning)]
    return Turn(reply(*parts), (Entry(NAMES[type(meaning)], _payload(job, meaning)),))


def _payload(job: Job, meaning: SETTING_UP) -> Mapping[str, Any]:
    match meaning:
        case Backsight():
            return {**encode(meaning), "height_of_instrument_ft": str(levelling.instrument(job, meaning))}
        case SetPipe():
            return piping.payload(job, meaning)
        case SetSights():
            return sharing.payload(job, meaning)
        case _:
            payload: Mapping[str, Any] = encode(meaning)
            return payload


def _consequences(job: Job, meaning: SETTING_UP) -> list[Said]:
    """What else changes with it."""
    match meaning:
        case DesignPlane() | SteepestPlane() | PlanePoint():
            if isinstance(meaning, PlanePoint) and sloping.with_point(job, meaning) is None:
                return []
            aside = [phrase("line set aside")] if job.line is not None else []
            return [*aside, phrase("same everywhere")]
        case DesignLine():
            aside = [phrase("plane set aside")] if job.plane is not None else []
            old = job.changes or (job.across is not None and job.across.slope is not None)
            return [*aside, phrase("bends forgotten")] if old else aside
        case SetAdjustment() if meaning.by_distance:
            return sharing.missing(job)
        case SetLaserClass():
            return lasers.cautions(meaning.name)
        case SetBelow() if job.pipe is not None:
            return [phrase("pipe set aside")]
        case SetRodLength() if feet(meaning.length) >= TALL_ROD:
            return [phrase("tall rod")]
        case _ if job.line_lost_by(meaning):
            return [phrase("line dropped")]
        case _:
            return []


def _plane_point(job: Job, point: PlanePoint) -> Said:
    told = phrase("plane point", reading=length(point.reading), station=station(point.station))
    plane = sloping.with_point(job, point)
    if plane is None:
        left = phrase("points to go two" if not job.plane_points else "points to go one")
    else:
        left = sloping.read_back(job, plane)
    return Said(f"{told.shown} {left.shown}", f"{told.spoken} {left.spoken}")
