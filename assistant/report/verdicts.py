"""Whether what was read is within the tolerance, given what the reading itself may be off."""

from __future__ import annotations

from dataclasses import dataclass
from fractions import Fraction

from assistant.job.records import feet
from assistant.report.survey import Point, Run

WITHIN, JUST_WITHIN, JUST_OUT, OUT = "within", "within, but not surely", "out, but not surely", "out"


@dataclass(frozen=True)
class Verdict:
    """A point as left: feet off the design, what that may be off either way, and what follows."""

    point: Point
    off: Fraction
    doubt: Fraction
    verdict: str


def verdicts(run: Run) -> list[Verdict]:
    """A verdict on each place as it was left; none where no tolerance was given."""
    if run.job.tolerance is None:
        return []
    allowed = feet(run.job.tolerance)
    return [
        Verdict(point, point.high, point.doubt, _verdict(abs(point.high), point.doubt, allowed))
        for point in run.left()
        if point.high is not None
    ]


def _verdict(off: Fraction, doubt: Fraction, allowed: Fraction) -> str:
    if off <= allowed:
        return WITHIN if off + doubt <= allowed else JUST_WITHIN
    return OUT if off - doubt > allowed else JUST_OUT
