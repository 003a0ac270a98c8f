"""The two-peg test: one set-up in the middle, one elsewhere."""

from __future__ import annotations

from fractions import Fraction

from assistant.book.entries import Entry
from assistant.book.exact_json import encode
from assistant.conversation.proving import FINE_STEP
from assistant.conversation.turn import Turn
from assistant.grade import instrument
from assistant.job.records import feet
from assistant.job.state import Job
from assistant.wording.phrase import computed, length, phrase, reply
from assistant.wording.said import Said
from grammar.meanings import PegTest
from grammar.quantities import Length, Marking

OVER = {Marking.INCHES: Fraction(100), Marking.TENTHS: Fraction(100), Marking.METRIC: Fraction(30)}
"""Feet or metres over which a tilt is told. Common practice, no source."""


def refusal(job: Job, meaning: PegTest) -> Said | None:
    """Why the test cannot go on so, if it cannot."""
    if meaning.middle:
        return None
    if meaning.from_first is None or meaning.from_second is None:
        return phrase("peg test where")
    if job.peg_middle is None:
        return phrase("peg test middle first")
    if feet(meaning.from_first) == feet(meaning.from_second):
        return phrase("peg test same distances")
    return None


def write(job: Job, meaning: PegTest) -> Turn:
    """Write one set-up; the second shows how the line of sight lies."""
    told = phrase("peg readings", first=length(meaning.first), second=length(meaning.second))
    if meaning.middle:
        higher = feet(meaning.first) - feet(meaning.second)
        parts = [told, _second_peg(job, higher), phrase("peg test go on")]
        return Turn(reply(*parts), (Entry("peg test", {**encode(meaning), "higher_ft": str(higher)}),))
    before = job.peg_middle
    assert before is not None and meaning.from_first is not None and meaning.from_second is not None
    found = instrument.two_peg(
        (feet(before.first), feet(before.second)),
        (feet(meaning.first), feet(meaning.second)),
        (feet(meaning.from_first), feet(meaning.from_second)),
    )
    payload = {**encode(meaning), "tilt": str(found.tilt), "holds": None}
    parts = [told, _tilt(job, found.tilt)]
    if found.tilt:
        right = (length(computed(job, found.first)), length(computed(job, found.second)))
        parts.append(phrase("pegs should read", first=right[0], second=right[1]))
    if job.accuracy is not None:
        holds = abs(found.tilt) <= feet(job.accuracy.accuracy) / feet(job.accuracy.over)
        payload["holds"] = holds
        parts.append(phrase("peg test holds" if holds else "peg test fails"))
    return Turn(reply(*parts), (Entry("peg test", payload),))


def _second_peg(job: Job, higher: Fraction) -> Said:
    if higher == 0:
        return phrase("pegs level")
    return phrase("second peg higher" if higher > 0 else "second peg lower", by=length(computed(job, abs(higher))))


def _tilt(job: Job, tilt: Fraction) -> Said:
    if tilt == 0:
        return phrase("sight level")
    marking = job.marking or Marking.TENTHS
    over = Length(OVER[marking], marking, Fraction(1))
    off = computed(job, abs(tilt) * feet(over))
    fine = length(Length(off.amount, off.marking, FINE_STEP[off.marking]))
    return phrase("sight up" if tilt > 0 else "sight down", off=fine, over=length(over))
