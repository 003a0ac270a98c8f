"""What a sentence that sets up the job writes, and how it is read back."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from assistant.book.entries import Entry
from assistant.conversation import expect, levelling, sloping
from assistant.conversation.phrase import computed, length, phrase, reply, station
from assistant.conversation.turn import Said, Turn
from assistant.exact_json import encode
from assistant.job import Job, feet
from grammar.meanings import (
    Backsight,
    Baseline,
    Benchmark,
    DesignLine,
    DesignPlane,
    Foresight,
    Meaning,
    SetAccuracy,
    SetBelow,
    SetPace,
    SetRod,
    SetRodLength,
    SetSurprise,
    SetTolerance,
)

SETTING_UP = (
    SetRod
    | SetRodLength
    | SetPace
    | SetSurprise
    | SetTolerance
    | Baseline
    | Benchmark
    | Backsight
    | DesignLine
    | DesignPlane
    | Foresight
    | SetAccuracy
    | SetBelow
)
TO_CONFIRM = (
    Baseline | Benchmark | Backsight | DesignLine | DesignPlane | Foresight | SetAccuracy | SetBelow | SetTolerance
)
"""What a mistake makes dear: nothing of it is written without an explicit "confirm"."""


def refusal(job: Job, meaning: Meaning) -> Said | None:
    """Why this cannot be set up as things stand, if it cannot."""
    match meaning:
        case DesignPlane():
            return sloping.refusal(meaning)
        case SetAccuracy() if meaning.accuracy.amount == 0 or meaning.over.amount == 0:
            return phrase("zero length", what=_NAMES[type(meaning)])
        case Foresight():
            return levelling.refusal(job, meaning)
        case Backsight() if job.benchmark is None:
            return phrase("backsight without benchmark")
        case DesignLine() if meaning.reading is None and meaning.elevation is None:
            if job.baseline is None:
                return phrase("line without start", station=station(meaning.start))
            if not expect.starts_at_baseline(meaning, job.baseline):
                return phrase("line away from baseline", station=station(meaning.start))
        case SetTolerance() | SetPace() | SetRodLength() | SetSurprise():
            if meaning.length.amount == 0:
                return phrase("zero length", what=_NAMES[type(meaning)])
    return None


def read_back(job: Job, meaning: SETTING_UP) -> Said:
    """What was understood, value first."""
    match meaning:
        case SetRod():
            return phrase("rod", marking=phrase(f"marking {meaning.marking.value}"))
        case SetBelow() if meaning.length.amount == 0:
            return phrase("to grade")
        case SetBelow() | SetRodLength() | SetPace() | SetSurprise() | SetTolerance():
            return phrase(_NAMES[type(meaning)], length=length(meaning.length))
        case Baseline() if meaning.station is None:
            return phrase("baseline", reading=length(meaning.reading))
        case Baseline():
            assert meaning.station is not None
            return phrase("baseline at", reading=length(meaning.reading), station=station(meaning.station))
        case Benchmark():
            name = "benchmark" if meaning.number is None else "benchmark number"
            return phrase(name, elevation=length(meaning.elevation), number=meaning.number or 0)
        case Backsight():
            return phrase("backsight", reading=length(meaning.reading), hi=_instrument(job, meaning))
        case DesignLine():
            return _line(meaning)
        case DesignPlane():
            return sloping.read_back(meaning)
        case SetAccuracy():
            return phrase("accuracy", accuracy=length(meaning.accuracy), over=length(meaning.over))
        case Foresight():
            return levelling.read_back(job, meaning)


def write(job: Job, meaning: SETTING_UP) -> Turn:
    """Write it down."""
    if isinstance(meaning, Foresight):
        return levelling.write_foresight(job, meaning)
    kind, payload = _entry(job, meaning)
    parts = [read_back(job, meaning), *_consequences(job, meaning)]
    return Turn(reply(*parts), (Entry(kind, payload),))


def _entry(job: Job, meaning: SETTING_UP) -> tuple[str, Mapping[str, Any]]:
    payload = encode(meaning)
    if isinstance(meaning, Backsight):
        assert job.benchmark is not None
        hi = feet(job.benchmark.elevation) + feet(meaning.reading)
        payload = {**payload, "height_of_instrument_ft": str(hi)}
    return _NAMES[type(meaning)], payload


def _consequences(job: Job, meaning: SETTING_UP) -> list[Said]:
    """What else changes with it."""
    match meaning:
        case DesignPlane():
            aside = [phrase("line set aside")] if job.line is not None else []
            return [*aside, phrase("same everywhere")]
        case DesignLine() if job.plane is not None:
            return [phrase("plane set aside")]
        case _ if job.line_lost_by(meaning):
            return [phrase("line dropped")]
        case _:
            return []


def _instrument(job: Job, backsight: Backsight) -> Said:
    assert job.benchmark is not None
    hi = feet(job.benchmark.elevation) + feet(backsight.reading)
    return length(computed(job, hi, job.benchmark.elevation.marking))


def _line(design: DesignLine) -> Said:
    start, run = station(design.start), sloping.run(design.slope, design.direction)
    if design.reading is not None:
        return phrase("line reading", station=start, reading=length(design.reading), run=run)
    if design.elevation is not None:
        return phrase("line elevation", station=start, elevation=length(design.elevation), run=run)
    return phrase("line", station=start, run=run)


_NAMES: dict[type, str] = {
    SetRod: "rod",
    SetRodLength: "rod length",
    SetPace: "pace",
    SetSurprise: "surprise",
    SetBelow: "below",
    SetAccuracy: "accuracy",
    SetTolerance: "tolerance",
    Baseline: "baseline",
    Benchmark: "benchmark",
    Backsight: "backsight",
    DesignLine: "line",
    DesignPlane: "plane",
    Foresight: "foresight",
}
"""The kind of entry that each becomes; also the name of its read-back among the replies."""
