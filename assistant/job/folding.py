"""What each kind of entry changes in the job."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from fractions import Fraction
from typing import Any

from assistant.book.exact_json import decode
from assistant.job.facts import Facts
from assistant.job.records import Levels, ReadingRecord, ThreePoints, Written, feet
from grammar.meanings import (
    Backsight,
    Baseline,
    Benchmark,
    Bend,
    DesignLine,
    DesignPlane,
    Drop,
    PegTest,
    PlanePoint,
    SetAccuracy,
    SetAcross,
    SetAllowance,
    SetBulking,
    SetLoad,
    SetOrder,
    SetPipe,
    SetRange,
    SetSight,
    SetSlopeStakes,
    SteepestPlane,
)
from grammar.quantities import Length, Marking

ABOUT_QUESTIONS = ("question", "dismissed")
NEVER_SCRATCHED = ("opened", "place")

Changes = dict[str, Any]


def _length(name: str) -> Callable[[Facts, Written], Changes]:
    return lambda job, row: {name: decode(Length, row.payload["length"])}


def _reading(job: Facts, row: Written) -> Changes:
    return {
        "last_reading": ReadingRecord(row, job.last_reading),
        "reading_count": job.reading_count + 1,
        "place_named_by": (row, "station"),
        "since_set_up": job.since_set_up + 1,
        "since_design": job.since_design + 1,
        "since_proof": job.since_proof + 1,
        "first_since_proof": job.first_since_proof or row,
    }


def _placed(job: Facts, row: Written) -> Changes:
    return {"place_named_by": (row, "station")}


def _compared_still(job: Facts, set_up: Baseline | Backsight) -> int:
    """Readings compared with a design that outlives a new set-up."""
    return 0 if job.line is None or job.line_lost_by(set_up) else job.since_design


PROVEN: Changes = {"since_proof": 0, "first_since_proof": None, "moved": False}


def _check(job: Facts, row: Written) -> Changes:
    return PROVEN if decode(bool, row.payload["holds"]) else {"moved": True}


def _baseline(job: Facts, row: Written) -> Changes:
    baseline = decode(Baseline, row.payload)
    return {
        **PROVEN,
        "since_set_up": 0,
        "since_design": _compared_still(job, baseline),
        "line": None if job.line_lost_by(baseline) else job.line,
        "baseline": baseline,
        "benchmark": None,
        "backsight": None,
        "under": None,
        "place_named_by": (row, "station") if baseline.station else job.place_named_by,
    }


def _benchmark(job: Facts, row: Written) -> Changes:
    benchmark = decode(Benchmark, row.payload)
    known: Changes = {"benchmark": benchmark}
    if benchmark.number is not None:
        others = tuple(other for other in job.benchmarks if other.number != benchmark.number)
        known["benchmarks"] = (*others, benchmark)
        if job.backsight is not None:  # one more known point under the set-up that stands
            return known
    return {**known, "backsight": None, "under": None, "loop_from": benchmark, "set_ups": 0, "levels": Levels()}


def _backsight(job: Facts, row: Written) -> Changes:
    backsight = decode(Backsight, row.payload)
    numbered = {known.number: known for known in job.benchmarks}
    under = job.benchmark if backsight.number is None else numbered[backsight.number]
    return {
        **PROVEN,
        "under": under,
        "loop_from": job.loop_from if job.set_ups else under,
        "since_set_up": 0,
        "since_design": _compared_still(job, backsight),
        "line": None if job.line_lost_by(backsight) else job.line,
        "backsight": backsight,
        "baseline": None,
        "set_ups": job.set_ups + 1,
    }


def _foresight(job: Facts, row: Written) -> Changes:
    """A turning point is the next known point; until there is a backsight on it, nothing can be read."""
    point = Benchmark(decode(Length, row.payload["elevation"]), None)
    points = (*job.levels.turning_points, (job.set_ups, point.elevation))
    return {
        "benchmark": point,
        "backsight": None,
        "under": None,
        "levels": replace(job.levels, turning_points=points),
    }


def _close(job: Facts, row: Written) -> Changes:
    closed = replace(job.levels, misclosure=decode(Fraction, row.payload["misclosure_ft"]), set_ups=job.set_ups)
    return {"levels": closed}


def _sights(job: Facts, row: Written) -> Changes:
    length = decode(Fraction, row.payload["length_ft"])
    return {"levels": replace(job.levels, sights={**job.levels.sights, decode(int, row.payload["set_up"]): length})}


def _line(job: Facts, row: Written) -> Changes:
    line = decode(DesignLine, row.payload)
    return {**NEW_DESIGN, "line": line, "place_named_by": (row, "start")}


NEW_DESIGN: Changes = {"since_design": 0, "plane": None, "plane_points": (), "changes": (), "across": None}
"""A new line or plane starts afresh."""


def _plane(kind: type[DesignPlane] | type[SteepestPlane]) -> Callable[[Facts, Written], Changes]:
    return lambda job, row: {**NEW_DESIGN, "line": None, "plane": decode(kind, row.payload)}


def _plane_point(job: Facts, row: Written) -> Changes:
    """The third point makes the plane."""
    points = (*job.plane_points, decode(PlanePoint, row.payload))
    if len(points) < 3:
        return {"plane_points": points}
    return {**NEW_DESIGN, "line": None, "plane": ThreePoints(points)}


def _change(kind: type[Bend] | type[Drop]) -> Callable[[Facts, Written], Changes]:
    """In the order of the stations; at one station in the order in which they were said."""

    def changes(job: Facts, row: Written) -> Changes:
        every = (*job.changes, decode(kind, row.payload))
        return {"since_design": 0, "changes": tuple(sorted(every, key=lambda change: feet(change.station.distance)))}

    return changes


def _pipe(job: Facts, row: Written) -> Changes:
    return {"since_design": 0, "pipe": decode(SetPipe, row.payload), "below": decode(Length, row.payload["below"])}


def _benchmark_check(job: Facts, row: Written) -> Changes:
    return PROVEN if decode(bool, row.payload["holds"]) else {"moved": True}


def _peg_test(job: Facts, row: Written) -> Changes:
    """The set-up in the middle waits for the other one."""
    test = decode(PegTest, row.payload)
    return {"peg_middle": test if test.middle else None}


CHANGES: dict[str, Callable[[Facts, Written], Changes]] = {
    "opened": lambda job, row: {"opened": True},
    "rod": lambda job, row: {"marking": decode(Marking, row.payload["marking"])},
    "rod length": _length("rod_length"),
    "pace": _length("pace"),
    "tolerance": _length("tolerance"),
    "surprise": _length("surprise"),
    "below": lambda job, row: {"since_design": 0, "below": decode(Length, row.payload["length"]), "pipe": None},
    "baseline": _baseline,
    "benchmark": _benchmark,
    "backsight": _backsight,
    "foresight": _foresight,
    "close": _close,
    "sights": _sights,
    "adjustment": lambda job, row: {"by_distance": decode(bool, row.payload["by_distance"])},
    "laser class": lambda job, row: {"laser_class": decode(str, row.payload["name"])},
    "allowance": lambda job, row: {"allowance": decode(SetAllowance, row.payload)},
    "order": lambda job, row: {"allowance": decode(SetOrder, row.payload)},
    "loop length": _length("loop_length"),
    "accuracy": lambda job, row: {"accuracy": decode(SetAccuracy, row.payload)},
    "receiver": _length("receiver"),
    "sight": lambda job, row: {"sight": decode(SetSight, row.payload).distance},
    "range": lambda job, row: {"range": decode(SetRange, row.payload)},
    "distances": lambda job, row: {"paced": decode(bool, row.payload["paced"])},
    "turn check": lambda job, row: {},
    "peg test": _peg_test,
    "beam check": lambda job, row: {},
    "check": _check,
    "benchmark check": _benchmark_check,
    "line": _line,
    "bend": _change(Bend),
    "drop": _change(Drop),
    "across": lambda job, row: {"since_design": 0, "across": decode(SetAcross, row.payload)},
    "plane": _plane(DesignPlane),
    "steepest plane": _plane(SteepestPlane),
    "plane point": _plane_point,
    "pipe": _pipe,
    "boards": _length("boards"),
    "slope stakes": lambda job, row: {"slope_stakes": decode(SetSlopeStakes, row.payload)},
    "bulking": lambda job, row: {"bulking": decode(SetBulking, row.payload).percent},
    "load": lambda job, row: {"load": decode(SetLoad, row.payload).yards},
    "trip": lambda job, row: {"trip": decode(int, row.payload["minutes"])},
    "place": lambda job, row: {"place_named_by": (row, "station")},
    "reading": _reading,
    "stake": _placed,
    "blue top": _placed,
    "catch": _placed,
}

KINDS = frozenset((*CHANGES, *ABOUT_QUESTIONS, "scratch"))
"""Every kind of entry that this version knows."""
