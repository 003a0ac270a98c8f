"""Kinds of sentences that set up a job: which are confirmed before they are written, and the entry of each."""

from __future__ import annotations

from grammar.meanings import (
    Backsight,
    Baseline,
    Benchmark,
    Bend,
    DesignLine,
    DesignPlane,
    Drop,
    Foresight,
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

TO_CONFIRM = (
    Baseline
    | Benchmark
    | Backsight
    | Foresight
    | DesignLine
    | Bend
    | Drop
    | SetAcross
    | DesignPlane
    | SteepestPlane
    | PlanePoint
    | SetBelow
    | SetPipe
    | SetBoards
    | SetSlopeStakes
    | SetAccuracy
    | SetTolerance
    | SetAllowance
    | SetOrder
)
"""What a mistake makes dear: nothing of it is written without an explicit "confirm"."""

SETTING_UP = (
    TO_CONFIRM
    | SetRod
    | SetRodLength
    | SetPace
    | SetSurprise
    | SetReceiver
    | SetSight
    | SetRange
    | SetDistances
    | SetBulking
    | SetLoad
    | SetLoopLength
    | SetSights
    | SetAdjustment
    | SetLaserClass
    | SetTrip
)

NAMES: dict[type, str] = {
    SetRod: "rod",
    SetRodLength: "rod length",
    SetPace: "pace",
    SetSurprise: "surprise",
    SetBelow: "below",
    SetAccuracy: "accuracy",
    SetReceiver: "receiver",
    SetSight: "sight",
    SetRange: "range",
    SetAllowance: "allowance",
    SetOrder: "order",
    SetLoopLength: "loop length",
    SetSights: "sights",
    SetAdjustment: "adjustment",
    SetLaserClass: "laser class",
    SetDistances: "distances",
    SetTolerance: "tolerance",
    Baseline: "baseline",
    Benchmark: "benchmark",
    Backsight: "backsight",
    Foresight: "foresight",
    DesignLine: "line",
    Bend: "bend",
    Drop: "drop",
    SetAcross: "across",
    DesignPlane: "plane",
    SteepestPlane: "steepest plane",
    PlanePoint: "plane point",
    SetPipe: "pipe",
    SetBoards: "boards",
    SetSlopeStakes: "slope stakes",
    SetBulking: "bulking",
    SetLoad: "load",
    SetTrip: "trip",
}
"""The kind of entry that each becomes; also the name of its read-back among the replies, where it has one."""
