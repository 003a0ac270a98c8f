"""How the rod person walks along the line: which way, in which strides, and where next."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace
from fractions import Fraction
from itertools import islice, pairwise

from assistant.job.facts import Facts
from assistant.job.records import feet
from grammar.quantities import Station

LEAST = 3
"""Readings, equally far apart, after which the next place is known. Our own choice."""


def stride(job: Facts) -> Fraction | None:
    """Feet from the last station but one to the last that was read, below zero where the stations fall.

    None before two different stations were.
    """
    places = _stations(job)
    latest = next(places, None)
    earlier = next((place for place in places if place != latest), None)
    return None if latest is None or earlier is None else latest - earlier


def is_down(job: Facts) -> bool:
    """Whether the walk goes towards lower stations; up where that is not known."""
    last = stride(job)
    return last is not None and last < 0


def is_back(job: Facts, here: Station, there: Station) -> bool:
    """Whether it is back from one station to another, as the walk goes."""
    way = feet(there.distance) - feet(here.distance)
    return way > 0 if is_down(job) else way < 0


def due(job: Facts) -> Station | None:
    """The next place of a walk in equal strides, within this set-up."""
    last = list(islice(job.readings(), min(LEAST, job.since_set_up)))
    walk = [record.station for record in last if isinstance(record.station, Station)]
    strides = {feet(later.distance) - feet(earlier.distance) for later, earlier in pairwise(walk)}
    if len(walk) != LEAST or len(strides) != 1 or 0 in strides:
        return None
    if len({place.distance.marking for place in walk}) != 1:
        return None
    amount = 2 * walk[0].distance.amount - walk[1].distance.amount
    return Station(replace(walk[0].distance, amount=amount)) if amount >= 0 else None


def last_read(job: Facts) -> Station | None:
    """The last station that was read."""
    return next((record.station for record in job.readings() if isinstance(record.station, Station)), None)


def _stations(job: Facts) -> Iterator[Fraction]:
    """Feet along the line of what was read, latest first."""
    return (feet(record.station.distance) for record in job.readings() if isinstance(record.station, Station))
