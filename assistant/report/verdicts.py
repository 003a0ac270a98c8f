"""Whether what was read is within the tolerance, given what the reading itself may be off."""

from __future__ import annotations

from dataclasses import dataclass
from fractions import Fraction

from assistant.grade import instrument
from assistant.job import Job
from assistant.report.amounts import feet_of
from assistant.report.survey import Point, Run
from grammar.quantities import Length

WITHIN, JUST_WITHIN, JUST_OUT, OUT = "within", "within, but not surely", "out, but not surely", "out"


@dataclass(frozen=True)
class Verdict:
    """A point as left: feet off the design, what that may be off either way, and what follows."""

    point: Point
    off: Fraction
    doubt: Fraction
    verdict: str


def verdicts(run: Run) -> list[Verdict]:
    """A verdict on each place as it was left; none where no tolerance was given.

    A reading may be off by half the smallest part that was said in this run: a "three foot nine" among eighths of an
    inch was read to an eighth too.
    """
    if run.job.tolerance is None:
        return []
    allowed = _feet(run.job.tolerance)
    doubt = min(point.step for point in run.points) / 2 + _beam(run.job)
    return [
        Verdict(point, point.high, doubt, _verdict(abs(point.high), doubt, allowed))
        for point in run.left()
        if point.high is not None
    ]


def _verdict(off: Fraction, doubt: Fraction, allowed: Fraction) -> str:
    if off <= allowed:
        return WITHIN if off + doubt <= allowed else JUST_WITHIN
    return OUT if off - doubt > allowed else JUST_OUT


def _beam(job: Job) -> Fraction:
    """What the receiver and the beam add, as far as the job was told; sums of the worst, not of the likely."""
    receiver, sight = getattr(job, "receiver", None), getattr(job, "sight", None)
    doubt = Fraction(0) if receiver is None else _feet(receiver)
    if job.accuracy is not None and isinstance(sight, Length):
        doubt += instrument.allowed(_feet(job.accuracy.accuracy), _feet(job.accuracy.over), _feet(sight))
    return doubt


def _feet(length: Length) -> Fraction:
    return feet_of({"amount": length.amount, "unit": length.marking.unit})
