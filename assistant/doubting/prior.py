"""What the job makes likely, before anything is heard."""

from __future__ import annotations

from fractions import Fraction
from itertools import islice
from math import exp, log

from assistant.doubting.sizes import is_out_of_size, odd_numbers
from assistant.job import expect, walk
from assistant.job.records import feet
from assistant.job.state import Job
from assistant.wording import asked
from grammar.meanings import Answer, AskGradeRod, Cancel, Confirm, Meaning, Reading, Scratch
from grammar.quantities import Length, Marking, Place, Station

USUAL_MISS = 0.25
"""Feet by which a reading is usually off what grade expects. This and the shares below are our own choice."""

UNEXPECTED = 0.15
"""The share of readings that have nothing to do with what is expected."""

SAME_STRIDE, NEAR_AHEAD, SAME_PLACE, ANYWHERE = 0.45, 0.3, 0.1, 0.15
"""The shares of places: as far on as last time, somewhere ahead, here again, anywhere."""

NAMED = 0.002
"""The share of a place with one certain name, where the last one was at a station."""

ODD_PLACE = 0.05
"""The share of places that are at no whole foot or metre."""

USUAL_STEP = {Marking.INCHES: Fraction(1, 12), Marking.TENTHS: Fraction(1, 100), Marking.METRIC: Fraction(1, 100)}
"""What a rod is read to at the least, in its own unit."""

COARSE = {Marking.INCHES: 0.02, Marking.TENTHS: 0.1, Marking.METRIC: 0.1}
"""The share of readings that are said less finely than that, as whole feet are: of many the last word was not heard."""

HABIT = 2
"""Readings after which a decimal rod is taken to be read as finely again."""

FINEST = {Marking.INCHES: Fraction(1, 192), Marking.TENTHS: Fraction(1, 100), Marking.METRIC: Fraction(1, 1000)}
"""What a rod is read to at the most, in its own unit: a sixteenth of an inch, a hundredth of a foot, a millimetre."""

FINE = 0.005
"""The share of readings that are said more finely than that: noise, or "feet", was heard as one figure more."""

ROUND, NOT_ROUND = 5, 0.3
"""Feet of which stations, or the steps between them, are mostly a multiple, and the share of others, to those; that of
odd ratios and angles too. Common practice, no source: stakes stand every ten, twenty five or fifty feet."""

AHEAD = 30.0
"""Feet to the next place, on the average."""

LOW = 0.02
"""The share of what is off the rod, of another marking or out of all usual size, and of readings within a foot of the
laser's plane where no such one is expected ("point two five" is mostly "eight point two five"). Our own choice."""

LONGEST = 1000.0
"""Feet over which a place anywhere is spread."""

TO_THE_POINT = 0.95
"""The share of answers to an open question that settle it, or let it go."""


def log_prior(job: Job, meaning: Meaning) -> float:
    """How likely a meaning is in this job, to an ordinary one of its kind: a natural logarithm."""
    if job.question is not None:
        to_the_point = (
            isinstance(meaning, Confirm | Cancel | Scratch) or asked.settled_by(job.question, meaning) is not None
        )
        return log(TO_THE_POINT if to_the_point else 1 - TO_THE_POINT)
    if isinstance(meaning, Answer | Confirm):
        return log(1 - TO_THE_POINT)
    is_off = expect.off_the_rod(job, meaning) is not None or expect.other_marking(job, meaning) is not None
    if is_off or is_out_of_size(job, meaning):
        return log(LOW)
    return log(NOT_ROUND) * odd_numbers(meaning) + _log_prior_of_kind(job, meaning)


def _log_prior_of_kind(job: Job, meaning: Meaning) -> float:
    match meaning:
        case Reading():
            return _reading(job, meaning) + _place(job, meaning.station)
        case AskGradeRod():
            return _place(job, meaning.station)
        case _:
            read = read_off(meaning)
            place = getattr(meaning, "start", None) or getattr(meaning, "station", None)
            said = 0.0 if read is None else _fineness(job, read) + _depth(read)
            return said + _roundness(place)


def usual(job: Job) -> float:
    """The logarithm for an ordinary meaning: one much under it was not expected at all."""
    return 0.0 if job.question is None else log(TO_THE_POINT)


def _reading(job: Job, meaning: Reading) -> float:
    """The logarithm for a reading, to an ordinary one."""
    expected = expect.grade_rod(job, meaning.station or job.place)
    length = float(feet(expect.rod_length(job)))
    said = _fineness(job, meaning.length)
    if expected is None or not 0 < expected < length:
        return said + _depth(meaning.length)
    off = abs(float(feet(meaning.length) - expected))
    near = (1 - UNEXPECTED) * exp(-off / USUAL_MISS) / (2 * USUAL_MISS)
    ordinary = (1 - UNEXPECTED) * exp(-1) / (2 * USUAL_MISS)
    return said + log((near + UNEXPECTED / length) / ordinary)


def _depth(read: Length) -> float:
    """The logarithm for how far under the plane of the laser something is, to the usual."""
    return log(LOW) if feet(read) < 1 else 0.0


def read_off(meaning: Meaning) -> Length | None:
    """What was read off the rod, where a meaning tells that; an answer does by itself."""
    return meaning.length if isinstance(meaning, Answer) else expect.read_on_rod(meaning)


def _fineness(job: Job, read: Length) -> float:
    """The logarithm for how finely something was read, to the usual."""
    if read.step > _usual_step(job, read.marking):
        return log(COARSE[read.marking])
    return log(FINE) if _is_fine(read) else 0.0


def _usual_step(job: Job, marking: Marking) -> Fraction:
    """What a rod is read to here at the least: on a decimal one, as finely as the last times."""
    last = [record.reading for record in islice(job.readings(), HABIT)]
    if marking is Marking.INCHES or len(last) < HABIT or any(length.marking is not marking for length in last):
        return USUAL_STEP[marking]
    return min(USUAL_STEP[marking], max(length.step for length in last))


def is_coarse(reading: Length) -> bool:
    """Whether a reading was said less finely than rods of its marking are read."""
    return reading.step > USUAL_STEP[reading.marking]


def _is_fine(reading: Length) -> bool:
    return reading.step < FINEST[reading.marking]


def _place(job: Job, station: Place | None) -> float:
    """The logarithm for a place, to one an ordinary step ahead of the last; nothing where it tells nothing."""
    if station is None or not isinstance(job.place, Station):
        return _roundness(station)
    ordinary = log(NEAR_AHEAD * exp(-1) / AHEAD)
    if not isinstance(station, Station):
        return log(NAMED) - ordinary
    way = float(feet(station.distance) - feet(job.place.distance)) * (-1 if walk.is_down(job) else 1)
    stride = walk.stride(job)
    chance = ANYWHERE / LONGEST
    chance += NEAR_AHEAD * exp(-way / AHEAD) / AHEAD if way > 0 else 0.0
    chance += SAME_PLACE if way == 0 else 0.0
    chance += SAME_STRIDE if stride is not None and way == float(abs(stride)) else 0.0
    return log(chance) - ordinary + _roundness(station, way)


def _roundness(place: Place | None, way: float | None = None) -> float:
    """The logarithm for how round a station is, or the `way` to it in feet, to the usual; nothing for other places."""
    if not isinstance(place, Station):
        return 0.0
    amount = place.distance.amount
    if amount.denominator != 1:
        return log(ODD_PLACE)
    is_round = amount % ROUND == 0 or (way is not None and way % ROUND == 0)
    return 0.0 if is_round or place.distance.marking is Marking.METRIC else log(NOT_ROUND)
