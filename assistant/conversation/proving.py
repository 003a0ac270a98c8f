"""The set-up proved again: a tripod that was bumped makes every reading since the last proof doubtful."""

from __future__ import annotations

from fractions import Fraction

from assistant.book.entries import Entry
from assistant.book.exact_json import encode
from assistant.conversation.turn import Turn
from assistant.grade import instrument
from assistant.job import expect
from assistant.job.records import feet
from assistant.job.state import Job
from assistant.wording.phrase import computed, length, phrase, reply
from assistant.wording.said import Said
from grammar.meanings import CheckSetUp, TurnCheck
from grammar.quantities import Length, Marking


def refusal(job: Job) -> Said | None:
    """Why there is nothing to check, if there is nothing."""
    return phrase("nothing to check") if _set_up(job) is None else None


def write(job: Job, meaning: CheckSetUp) -> Turn:
    """Compare with the reading under which the instrument was set up, and tell what is no longer proven."""
    stood = _set_up(job)
    assert stood is not None
    off = feet(meaning.reading) - feet(stood)
    holds = abs(off) <= expect.check_tolerance_ft(job)
    entry = Entry("check", {"reading": encode(meaning.reading), "off_ft": str(off), "holds": holds})
    if holds:
        return Turn(reply(phrase("check holds", reading=length(meaning.reading))), (entry,))
    return Turn(reply(_off(job, meaning, off), *doubted(job)), (entry,))


def doubted(job: Job) -> list[Said]:
    """What is no longer proven after a check that failed, and what to do."""
    return [_unproven(job), phrase("set up again")]


def turned(job: Job, meaning: TurnCheck) -> Turn:
    """How far one axis is off, and whether the laser's own accuracy allows that."""
    off = instrument.axis_error(feet(meaning.first), feet(meaning.second))
    payload = {**encode(meaning), "off_ft": str(off), "holds": None}
    said = phrase(
        "turn check",
        first=length(meaning.first),
        second=length(meaning.second),
        distance=length(meaning.distance),
        off=_fine(job, off),
    )
    if job.accuracy is None:
        return Turn(reply(said, phrase("accuracy unknown")), (Entry("turn check", payload),))
    stated = job.accuracy
    most = instrument.allowed(feet(stated.accuracy), feet(stated.over), feet(meaning.distance))
    holds = off <= most
    verdict = phrase("axis holds" if holds else "axis is off", distance=length(meaning.distance))
    return Turn(reply(said, verdict), (Entry("turn check", {**payload, "holds": holds}),))


FINE_STEP = {Marking.INCHES: Fraction(1, 192), Marking.TENTHS: Fraction(1, 1000), Marking.METRIC: Fraction(1, 10_000)}
"""The step to which an error of the instrument is rounded: 1/16 in, 0.001 ft, 0.1 mm. Our own choice."""


def _fine(job: Job, amount_ft: Fraction) -> Said:
    shown = computed(job, amount_ft)
    return length(Length(shown.amount, shown.marking, FINE_STEP[shown.marking]))


def _set_up(job: Job) -> Length | None:
    if job.baseline is not None:
        return job.baseline.reading
    return None if job.backsight is None else job.backsight.reading


def _off(job: Job, meaning: CheckSetUp, off: Fraction) -> Said:
    name = "check reads more" if off > 0 else "check reads less"
    return phrase(name, reading=length(meaning.reading), off=length(computed(job, abs(off))))


def _unproven(job: Job) -> Said:
    first = job.first_since_proof
    if first is None:
        return phrase("none unproven")
    return phrase("unproven since", count=job.since_proof, time=first.time[11:16])
