"""A station that is perhaps not the one meant: read already, or behind the walk where another was due."""

from __future__ import annotations

from dataclasses import replace
from fractions import Fraction
from itertools import islice, pairwise

from assistant.job import expect
from assistant.job.records import ReadingRecord, feet, same
from assistant.job.state import Job
from assistant.wording.phrase import length, phrase, station
from assistant.wording.said import Said
from grammar import sound_alikes
from grammar.meanings import Reading
from grammar.quantities import Station
from grammar.spoken import say_number

LEAST_WALK = 3
"""Readings, equally far apart, after which the next place is known. Our own choice."""


def doubted(job: Job, said: Reading) -> tuple[tuple[Reading, ...], Said] | None:
    """What may have been meant, first what was said, and why it is asked; none where the place is as it should be.

    Going back to look again is no slip, nor is a reading that has come nearer to grade since.
    """
    if not isinstance(said.station, Station) or same(said.station, job.place):
        return None
    due = _due(job)
    if same(due, said.station):
        return None
    before = _read_before(job, said)
    if before is not None and _strays(job, said, before, due):
        why = phrase("station doubled", station=station(said.station), reading=length(before.reading))
    elif before is None and due is not None and _is_behind(job, said.station) and _fits_better(job, said, due):
        why = phrase("station out of order", station=station(said.station), due=station(due))
    else:
        return None
    meant = None if due is None else replace(said, station=due)
    likely = meant is not None and expect.unexpected(job, meant) is None
    return (said, meant) if meant is not None and likely else (said,), why


def _walk(job: Job) -> list[Station]:
    """The last places read in this set-up, latest first, if enough of them are at stations."""
    last = list(islice(job.readings(), min(LEAST_WALK, job.since_set_up)))
    places = [record.station for record in last if isinstance(record.station, Station)]
    return places if len(places) == LEAST_WALK else []


def _due(job: Job) -> Station | None:
    """The next place of a walk in equal strides."""
    walk = _walk(job)
    strides = {feet(later.distance) - feet(earlier.distance) for later, earlier in pairwise(walk)}
    if len(strides) != 1 or 0 in strides or len({place.distance.marking for place in walk}) != 1:
        return None
    amount = 2 * walk[0].distance.amount - walk[1].distance.amount
    return Station(replace(walk[0].distance, amount=amount)) if amount >= 0 else None


def _is_behind(job: Job, place: Station) -> bool:
    latest, earlier, *_ = (feet(one.distance) for one in _walk(job))
    return (feet(place.distance) - latest) * (latest - earlier) < 0


def _read_before(job: Job, said: Reading) -> ReadingRecord | None:
    """What stands for the same place in this set-up."""
    under = islice(job.readings(), job.since_set_up)
    return next((record for record in under if same(record.station, said.station)), None)


def _strays(job: Job, said: Reading, before: ReadingRecord, due: Station | None) -> bool:
    """Whether it is another reading than before, and no nearer to grade; where no grade is known, only on a walk."""
    rod = expect.grade_rod(job, said.station)
    old, new = feet(before.reading), feet(said.length)
    if abs(new - old) <= max(expect.tolerance_ft(job), expect.WHOLE_FOOT):
        return False
    return due is not None if rod is None else abs(new - rod) > abs(old - rod)


def _fits_better(job: Job, said: Reading, due: Station) -> bool:
    """Whether the place that was due sounds like the one said, or the reading is on grade there and not here."""
    assert isinstance(said.station, Station)
    if _sound_alike(said.station.distance.amount, due.distance.amount):
        return True
    here, there = expect.grade_rod(job, said.station), expect.grade_rod(job, due)
    if here is None or there is None:
        return False
    reading, within = feet(said.length), max(expect.tolerance_ft(job), expect.WHOLE_FOOT)
    return abs(reading - there) <= within < abs(reading - here)


def _sound_alike(one: Fraction, other: Fraction) -> bool:
    return say_number(other) in sound_alikes.swapped(say_number(one))
