"""A station that is perhaps not the one meant: read already, or behind the walk where another was due."""

from __future__ import annotations

from dataclasses import replace
from fractions import Fraction
from itertools import islice

from assistant.job import expect, walk
from assistant.job.records import ReadingRecord, feet, same
from assistant.job.state import Job
from assistant.wording.phrase import length, phrase, station
from assistant.wording.said import Said
from grammar import sound_alikes
from grammar.meanings import Reading
from grammar.quantities import Station
from grammar.spoken import say_number


def doubted(job: Job, said: Reading) -> tuple[tuple[Reading, ...], Said] | None:
    """What may have been meant, first what was said, and why it is asked; none where the place is as it should be.

    Going back to look again is no slip, nor is a reading that has come nearer to grade since.
    """
    if not isinstance(said.station, Station) or same(said.station, job.place):
        return None
    due = walk.due(job)
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


def _is_behind(job: Job, place: Station) -> bool:
    last = walk.last_read(job)
    return last is not None and walk.is_back(job, last, place)


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
