"""Levels carried from point to point: turning points, and the close on a known benchmark."""

from __future__ import annotations

from fractions import Fraction

from assistant.book.entries import Entry
from assistant.book.exact_json import encode
from assistant.conversation import closing, proving
from assistant.conversation.turn import Turn
from assistant.grade import levels
from assistant.job import expect
from assistant.job.records import feet
from assistant.job.state import Job
from assistant.wording.phrase import computed, length, phrase, reply
from assistant.wording.said import Said
from grammar.meanings import (
    Backsight,
    Benchmark,
    CheckBenchmark,
    CloseLoop,
    Foresight,
)
from grammar.quantities import Length, Marking
from grammar.spoken import half_up, say_number

FINE_STEP = {Marking.TENTHS: Fraction(1, 1000), Marking.INCHES: Fraction(1, 1000), Marking.METRIC: Fraction(1, 10_000)}
"""The step to which a share of a misclosure is rounded: a tenth of what is read."""


def refusal(job: Job, meaning: Foresight | CloseLoop | CheckBenchmark) -> Said | None:
    """Why levels cannot go on as things stand, if they cannot."""
    return phrase("no instrument") if job.height_of_instrument() is None else None


def no_benchmark(job: Job, meaning: Backsight) -> Said | None:
    """Why there is nothing under this backsight, if there is nothing."""
    if meaning.number is not None and _numbered(job, meaning.number) is None:
        return phrase("no such benchmark", number=meaning.number)
    return phrase("backsight without benchmark") if _under(job, meaning) is None else None


def instrument(job: Job, meaning: Backsight) -> Fraction:
    """Feet of elevation of the beam that a backsight gives."""
    under = _under(job, meaning)
    assert under is not None
    return levels.height_of_instrument(feet(under.elevation), feet(meaning.reading))


def check_refusal(job: Job, meaning: CheckBenchmark) -> Said | None:
    """Why this benchmark cannot be checked, if it cannot."""
    if _numbered(job, meaning.number) is None:
        return phrase("no such benchmark", number=meaning.number)
    return refusal(job, meaning)


def wrong_benchmark(job: Job, meaning: CheckBenchmark) -> Said | None:
    """The doubt that the rod stands on another benchmark, whose elevation this is."""
    found = feet(_elevation(job, meaning.reading))
    fit = [known for known in job.benchmarks if abs(found - feet(known.elevation)) <= expect.check_tolerance_ft(job)]
    if not fit or any(known.number == meaning.number for known in fit):
        return None
    return phrase("looks like", reading=length(meaning.reading), number=fit[-1].number or 0)


def check(job: Job, meaning: CheckBenchmark) -> Turn:
    """Compare a known point with what the levels say of it."""
    known = _numbered(job, meaning.number)
    assert known is not None
    found = _elevation(job, meaning.reading)
    off = feet(found) - feet(known.elevation)
    holds = abs(off) <= expect.check_tolerance_ft(job)
    payload = {**encode(meaning), "elevation": encode(found), "off_ft": str(off), "holds": holds}
    shown = length(_rounded(found))
    told = phrase("benchmark read", number=meaning.number, reading=length(meaning.reading), elevation=shown)
    if holds:
        parts = [phrase("benchmark holds")]
    else:
        miss = computed(job, abs(off), known.elevation.marking)
        parts = [phrase("benchmark high" if off > 0 else "benchmark low", off=length(miss)), *proving.doubted(job)]
    return Turn(reply(told, *parts), (Entry("benchmark check", payload),))


def _numbered(job: Job, number: int) -> Benchmark | None:
    return next((known for known in job.benchmarks if known.number == number), None)


def _under(job: Job, meaning: Backsight) -> Benchmark | None:
    return job.benchmark if meaning.number is None else _numbered(job, meaning.number)


def read_back(job: Job, meaning: Foresight | Backsight) -> Said:
    """The reading, and the elevation that it gives."""
    if isinstance(meaning, Backsight):
        under = _under(job, meaning)
        assert under is not None
        hi = length(computed(job, instrument(job, meaning), under.elevation.marking))
        if meaning.number is None:
            return phrase("backsight", reading=length(meaning.reading), hi=hi)
        return phrase("backsight on", reading=length(meaning.reading), hi=hi, number=meaning.number)
    return phrase(
        "foresight", reading=length(meaning.reading), elevation=length(_rounded(_elevation(job, meaning.reading)))
    )


def write_foresight(job: Job, meaning: Foresight) -> Turn:
    """Carry the elevation to the turning point."""
    payload = {**encode(meaning), "elevation": encode(_elevation(job, meaning.reading))}
    return Turn(reply(read_back(job, meaning), phrase("move on")), (Entry("foresight", payload),))


def close(job: Job, meaning: CloseLoop) -> Turn:
    """Compare what was carried round with what is known; a miss is shared out equally among the set-ups."""
    known = meaning.elevation or (job.loop_from.elevation if job.loop_from else None)
    assert known is not None
    carried = _elevation(job, meaning.reading)
    miss = feet(carried) - feet(known)
    payload = {
        **encode(meaning),
        "carried": encode(carried),
        "known": encode(known),
        "misclosure_ft": str(miss),
        "set_ups": job.set_ups,
    }
    parts = [phrase("close", reading=length(meaning.reading), elevation=length(_rounded(carried)))]
    allowed = closing.allowed_miss(job)
    payload["allowed_ft"] = None if allowed is None else str(allowed)
    said = [*_verdict(job, miss, known.marking), *closing.against(job, miss, allowed, known.marking)]
    return Turn(reply(*parts, *said), (Entry("close", payload),))


def _verdict(job: Job, miss: Fraction, marking: Marking) -> list[Said]:
    if miss == 0:
        return [phrase("closes exactly", set_ups=_set_ups(job.set_ups))]
    share = computed(job, abs(miss) / job.set_ups, marking)
    name = "closes high" if miss > 0 else "closes low"
    return [
        phrase(
            name,
            miss=length(_rounded(computed(job, abs(miss), marking))),
            set_ups=_set_ups(job.set_ups),
            share=length(Length(half_up(share.amount, FINE_STEP[marking]), marking, FINE_STEP[marking])),
        )
    ]


def _set_ups(count: int) -> Said:
    if count == 1:
        return phrase("one set-up")
    return phrase("set-ups", count=Said(str(count), say_number(Fraction(count))))


def _elevation(job: Job, reading: Length) -> Length:
    """Exact, in the unit of the benchmark."""
    instrument = job.height_of_instrument()
    assert instrument is not None and job.under is not None
    marking = job.under.elevation.marking
    return computed(job, levels.elevation(instrument, feet(reading)), marking)


def _rounded(value: Length) -> Length:
    """As it is shown."""
    return Length(half_up(value.amount, value.step), value.marking, value.step)
