"""Levels carried from point to point: turning points, and the close on a known benchmark."""

from __future__ import annotations

from fractions import Fraction

from assistant.book.entries import Entry
from assistant.conversation.phrase import computed, length, phrase, reply
from assistant.conversation.turn import Said, Turn
from assistant.exact_json import encode
from assistant.grade import levels
from assistant.job import Job, feet
from grammar.meanings import CloseLoop, Foresight
from grammar.quantities import Length, Marking
from grammar.spoken import half_up, say_number

FINE_STEP = {Marking.TENTHS: Fraction(1, 1000), Marking.INCHES: Fraction(1, 1000), Marking.METRIC: Fraction(1, 10_000)}
"""The step to which a share of a misclosure is rounded: a tenth of what is read."""


def refusal(job: Job, meaning: Foresight | CloseLoop) -> Said | None:
    """Why levels cannot go on as things stand, if they cannot."""
    return phrase("no instrument") if job.height_of_instrument() is None else None


def read_back(job: Job, meaning: Foresight) -> Said:
    """The turning point and its elevation."""
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
    return Turn(reply(*parts, *_verdict(job, miss, known.marking)), (Entry("close", payload),))


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
    assert instrument is not None and job.benchmark is not None
    marking = job.benchmark.elevation.marking
    return computed(job, levels.elevation(instrument, feet(reading)), marking)


def _rounded(value: Length) -> Length:
    """As it is shown."""
    return Length(half_up(value.amount, value.step), value.marking, value.step)
