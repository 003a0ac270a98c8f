"""How much dirt: under the readings of the job, between cross-sections, and as loads."""

from __future__ import annotations

from fractions import Fraction
from itertools import islice

from assistant.conversation import sloping
from assistant.grade import earthwork, units
from assistant.job import expect
from assistant.job.records import feet
from assistant.job.state import Job
from assistant.wording.phrase import decimal, phrase
from assistant.wording.said import Said
from grammar.meanings import AskDirt, AskEndAreas, AskLoads
from grammar.quantities import Marking, Place, Station

ASK_DIRT = AskDirt | AskLoads | AskEndAreas

STEP = Fraction(1, 10)
"""Cubic yards or metres to which a volume of dirt is rounded. Common practice, no source."""


def told(job: Job, meaning: ASK_DIRT) -> list[Said]:
    """Answer how much."""
    match meaning:
        case AskDirt():
            return _under_readings(job)
        case AskLoads():
            return _loads(job, meaning)
        case AskEndAreas():
            return _between(job, meaning)


def _under_readings(job: Job) -> list[Said]:
    points = _points(job)
    found = earthwork.of_points(points)
    if found is None:
        return [phrase("dirt needs points")]
    count = phrase("dirt points", count=decimal(Fraction(len(points))))
    parts = [phrase("dirt", points=count, cut=_volume(job, found.cut), fill=_volume(job, found.fill))]
    return [*parts, *_bulked(job, found.cut)] if found.cut else parts


def _points(job: Job) -> list[earthwork.Depth]:
    """The latest reading of each place beside or along the line that was compared with the design that holds."""
    latest: dict[Place, earthwork.Depth] = {}
    for record in islice(job.readings(), job.since_design):
        place, rod = record.station, record.payload["grade_rod_ft"]
        if isinstance(place, Station) and rod is not None and place not in latest:
            depth = Fraction(rod) - feet(record.reading)
            latest[place] = earthwork.Depth(feet(place.distance), expect.offset_left(place), depth)
    return list(latest.values())


def _loads(job: Job, meaning: AskLoads) -> list[Said]:
    if job.load is None:
        return [phrase("no load")]
    if meaning.yards is not None:
        in_place = meaning.yards * earthwork.CUBIC_FEET_IN_A_YARD
    else:
        found = earthwork.of_points(_points(job))
        if found is None:
            return [phrase("dirt needs points")]
        in_place = found.cut
    return [phrase("in place", volume=_volume(job, in_place)), *_bulked(job, in_place)]


def _bulked(job: Job, in_place: Fraction) -> list[Said]:
    """The dug dirt as it lies in a truck; nothing that was not said is taken for granted."""
    volume = earthwork.loose(in_place, job.bulking or Fraction(0))
    parts = [phrase("no swell")] if job.bulking is None else [phrase("loose", volume=_volume(job, volume))]
    if job.load is not None:
        count = earthwork.loads(volume, job.load * earthwork.CUBIC_FEET_IN_A_YARD)
        parts.append(phrase("loads", count=decimal(Fraction(count)), load=decimal(job.load)))
        if job.trip is not None:
            hours = decimal(Fraction(count * job.trip, 60), STEP)
            parts.append(phrase("hours", hours=hours, minutes=decimal(Fraction(job.trip))))
    return parts


def _between(job: Job, meaning: AskEndAreas) -> list[Said]:
    far = sloping.measured(job, meaning.distance)
    if far is None:
        return [phrase("pace unknown")]
    said = {
        "first": decimal(meaning.first),
        "second": decimal(meaning.second),
        "distance": sloping.said_distance(meaning.distance),
    }
    if meaning.middle is None:
        volume = earthwork.average_end_area(meaning.first, meaning.second, far.length)
        return [phrase("between ends", **said, volume=_volume(job, volume))]
    volume = earthwork.prismoidal(meaning.first, meaning.middle, meaning.second, far.length)
    return [phrase("between three", **said, middle=decimal(meaning.middle), volume=_volume(job, volume))]


def _volume(job: Job, cubic_feet: Fraction) -> Said:
    metric = job.marking is Marking.METRIC
    amount = cubic_feet * units.FOOT_IN_METRES**3 if metric else cubic_feet / earthwork.CUBIC_FEET_IN_A_YARD
    return phrase("cubic metres" if metric else "cubic yards", amount=decimal(amount, STEP))
