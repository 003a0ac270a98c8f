"""Answers to questions. Nothing is written, but for the place asked about."""

from __future__ import annotations

from fractions import Fraction
from itertools import islice

from assistant.book.entries import Entry
from assistant.conversation import expect, sloping
from assistant.conversation.phrase import (
    computed,
    grade,
    length,
    listed,
    paces,
    phrase,
    reply,
    slope,
    station,
)
from assistant.conversation.setting_up import read_back
from assistant.conversation.turn import Said, Turn
from assistant.conversation.working import in_book
from assistant.exact_json import encode
from assistant.grade import distance as pacing
from assistant.grade import sizes
from assistant.grade.slope import rise_over_run, slope_amount
from assistant.job import Job, feet
from grammar.meanings import (
    AskConcrete,
    AskDiagonal,
    AskDistance,
    AskFall,
    AskGradeRod,
    AskLeg,
    AskSlope,
    AskSlopeGot,
    AskStatus,
    AskToGo,
    ConvertLength,
    ConvertSlope,
    ReadBack,
)
from grammar.quantities import Distance, Length, Marking, Slope, SlopeUnit
from grammar.spoken import half_up, say_decimal

VOLUME_STEP = Fraction(1, 100)
"""Cubic yards or metres to which a volume is rounded. Common practice, no source."""

MOST_READ_BACK = 3
"""A spoken list longer than this is not remembered. Our own choice."""

ASKING = (
    AskGradeRod
    | AskToGo
    | AskFall
    | AskSlope
    | AskDistance
    | AskLeg
    | AskSlopeGot
    | AskDiagonal
    | AskConcrete
    | ConvertSlope
    | ConvertLength
    | ReadBack
    | AskStatus
)


def answer(job: Job, meaning: ASKING) -> Turn:
    """Answer a question about the job, or a sum."""
    match meaning:
        case AskGradeRod():
            return _grade_rod(job, meaning)
        case AskToGo():
            return Turn(reply(_to_go(job, meaning)))
        case AskFall():
            return Turn(reply(*_fall(job, meaning)))
        case AskSlope():
            return Turn(reply(*_slope(job, meaning)))
        case AskDiagonal():
            return Turn(reply(_diagonal(job, meaning)))
        case AskConcrete():
            return Turn(reply(_concrete(meaning)))
        case AskSlopeGot():
            return Turn(reply(_slope_got(job)))
        case AskLeg():
            return sloping.answer(job, meaning)
        case AskDistance():
            return Turn(reply(*_distance(job, meaning.distance)))
        case ConvertSlope():
            return Turn(reply(_convert_slope(meaning)))
        case ConvertLength():
            return Turn(reply(_convert_length(meaning)))
        case ReadBack():
            return Turn(reply(*_last_ones(job, meaning.count)))
        case AskStatus():
            return Turn(reply(*_status(job)))


def _grade_rod(job: Job, meaning: AskGradeRod) -> Turn:
    place = meaning.station or job.place
    if place is None and job.line is not None:
        return Turn(reply(phrase("which station")))
    rod = expect.grade_rod(job, place)
    if rod is None:
        return Turn(reply(phrase("no grade known")))
    moved = meaning.station is not None and meaning.station != job.place
    entries = (Entry("place", {"station": encode(place)}),) if moved else ()
    if rod < 0:
        assert place is not None
        return Turn(reply(phrase("grade above beam", station=station(place))), entries)
    amount = length(computed(job, rod))
    if job.line is None or place is None:
        told = phrase("grade rod on the plane" if job.plane else "grade rod level", reading=amount)
        return Turn(reply(told, *_depth(job)), entries)
    parts = [phrase("grade rod at", station=station(place), reading=amount), *_depth(job)]
    if rod > feet(expect.rod_length(job)):
        parts.append(phrase("longer than the rod", rod=length(expect.rod_length(job))))
    return Turn(reply(*parts), entries)


def _depth(job: Job) -> list[Said]:
    """Where the digging ends below grade, so that nobody takes it for grade."""
    if job.below_grade is None:
        return []
    depth = phrase("below grade", below=length(job.below_grade.length))
    return [phrase("grade rod below", depth=depth)]


def _to_go(job: Job, meaning: AskToGo) -> Said:
    wanted = meaning.station or job.place
    for record in job.readings():
        if record.station == wanted:
            break
    else:
        return phrase("no readings") if wanted is None else phrase("no reading at", station=station(wanted))
    if record.grade is None:
        return phrase("no grade known")
    left = grade(job, record.grade, record.below)
    if record.station is None:
        return phrase("graded", grade=left)
    return phrase("to go", station=station(record.station), grade=left)


def _fall(job: Job, meaning: AskFall) -> list[Said]:
    run = _run_ft(job, meaning.distance)
    if run is None:
        return [phrase("pace unknown")]
    steep = rise_over_run(meaning.slope.amount, meaning.slope.unit.value)
    fall = phrase(
        "fall over",
        distance=_said(meaning.distance),
        slope=slope(meaning.slope),
        fall=_in_marking(job, run * steep, meaning.distance),
    )
    return [fall, *_give_or_take(job, meaning.distance, steep)]


def _slope(job: Job, meaning: AskSlope) -> list[Said]:
    run = _run_ft(job, meaning.distance)
    if run is None:
        return [phrase("pace unknown")]
    if run == 0:
        return [phrase("no distance")]
    steep = feet(meaning.fall) / run
    return [
        phrase(
            "slope of",
            fall=length(meaning.fall),
            distance=_said(meaning.distance),
            slope=_rounded(steep, SlopeUnit.PERCENT),
            other=_rounded(steep, SlopeUnit.INCH_PER_FOOT),
        )
    ]


def _diagonal(job: Job, meaning: AskDiagonal) -> Said:
    across = sizes.diagonal(feet(meaning.length), feet(meaning.width))
    shown = computed(job, across, meaning.width.marking if job.marking is None else None)
    exact = half_up(shown.amount, shown.step) == shown.amount
    said = length(shown) if exact else phrase("about", amount=length(shown))
    return phrase("diagonal", length=length(meaning.length), width=length(meaning.width), diagonal=said)


def _concrete(meaning: AskConcrete) -> Said:
    sides = (meaning.length, meaning.width, meaning.thickness)
    metric = all(side.marking is Marking.METRIC for side in sides)
    volume = sizes.slab_cubic_yards(*map(feet, sides))
    if metric:
        volume = meaning.length.amount * meaning.width.amount * meaning.thickness.amount
    rounded = half_up(volume, VOLUME_STEP)
    figure = Said(f"{float(rounded):.2f}", say_decimal(f"{float(rounded):.2f}"))
    return phrase(
        "concrete metric" if metric else "concrete",
        length=length(meaning.length),
        width=length(meaning.width),
        thickness=length(meaning.thickness),
        volume=figure if rounded == volume else phrase("about", amount=figure),
    )


def _slope_got(job: Job) -> Said:
    """The slope of the ground between the last two places read since the set-up, in the order they were read."""
    if job.plane is not None:
        return phrase("sloped beam")
    read = list(islice(job.readings(), job.since_set_up))
    placed = [record for record in read if record.station is not None]
    last = placed[0] if placed else None
    before = next((r for r in placed if last is not None and r.station != last.station), None)
    if last is None or before is None or last.station is None or before.station is None:
        return phrase("two places first")
    run = feet(last.station.distance) - feet(before.station.distance)
    rise = feet(before.reading) - feet(last.reading)
    steep = rise / run
    direction = "level" if steep == 0 else "rising" if steep > 0 else "falling"
    amounts = (_rounded(abs(steep), unit) for unit in (SlopeUnit.PERCENT, SlopeUnit.INCH_PER_FOOT))
    return phrase(
        f"got {direction}",
        before=station(before.station),
        last=station(last.station),
        amounts=listed(amounts, "that is") if steep else Said("", ""),
    )


def _distance(job: Job, distance: Distance) -> list[Said]:
    run = _run_ft(job, distance)
    if run is None:
        return [phrase("pace unknown")]
    said = phrase("distance is", distance=_said(distance), length=_in_marking(job, run, distance))
    return [said, *_give_or_take(job, distance, Fraction(1))]


def _run_ft(job: Job, distance: Distance) -> Fraction | None:
    if isinstance(distance, Length):
        return feet(distance)
    return None if job.pace is None else pacing.paced(distance.count, feet(job.pace)).length


def _give_or_take(job: Job, distance: Distance, per_foot: Fraction) -> list[Said]:
    if isinstance(distance, Length) or job.pace is None:
        return []
    doubt = pacing.paced(distance.count, feet(job.pace)).give_or_take * per_foot
    shown = computed(job, doubt)
    if half_up(shown.amount, shown.step) == 0:
        return []
    return [phrase("give or take", amount=length(shown))]


def _said(distance: Distance) -> Said:
    return length(distance) if isinstance(distance, Length) else paces(distance)


def _in_marking(job: Job, amount_ft: Fraction, distance: Distance) -> Said:
    marking = job.marking or (distance.marking if isinstance(distance, Length) else None)
    return length(computed(job, amount_ft, marking))


_SLOPE_STEP = {
    SlopeUnit.PERCENT: Fraction(1, 100),
    SlopeUnit.INCH_PER_FOOT: Fraction(1, 100),
    SlopeUnit.ONE_IN: Fraction(1, 10),
    SlopeUnit.DEGREES: Fraction(1, 100),
}


def _rounded(steep: Fraction, unit: SlopeUnit) -> Said:
    amount = slope_amount(steep, unit.value)
    if amount is None:
        return phrase("level slope")
    step = _SLOPE_STEP[unit]
    rounded = half_up(amount, step)
    said = slope(Slope(rounded, unit))
    return said if rounded == amount else phrase("about", amount=said)


def _convert_slope(meaning: ConvertSlope) -> Said:
    steep = rise_over_run(meaning.slope.amount, meaning.slope.unit.value)
    units = [meaning.unit] if meaning.unit else [u for u in SlopeUnit if u != meaning.slope.unit]
    amounts = [_rounded(steep, unit) for unit in units]
    return phrase("slope is", slope=slope(meaning.slope), amounts=listed(amounts))


def _convert_length(meaning: ConvertLength) -> Said:
    value = meaning.length
    markings = [meaning.marking] if meaning.marking else [m for m in Marking if m is not value.marking]
    amounts = []
    for marking in markings:
        other = computed(Job(), feet(value), marking)
        exact = half_up(other.amount, other.step) == other.amount
        amounts.append(length(other) if exact else phrase("about", amount=length(other)))
    return phrase("length is", length=length(value), amounts=listed(amounts))


def _last_ones(job: Job, count: int) -> list[Said]:
    records = [record for record, _ in zip(job.readings(), range(MOST_READ_BACK), strict=False)]
    records = records[: max(1, count)]
    if not records:
        return [phrase("no readings")]
    parts = []
    for record in records:
        if record.grade is None:
            parts.append(phrase("graded", grade=in_book(record)))
        else:
            said = grade(job, record.grade, record.below)
            parts.append(phrase("read back", reading=in_book(record), grade=said))
    if count > MOST_READ_BACK:
        parts.append(phrase("no more read back", most=MOST_READ_BACK))
    return parts


def _status(job: Job) -> list[Said]:
    if job.marking is None:
        return [phrase("rod first")]
    parts = [phrase("rod", marking=phrase(f"marking {job.marking.value}"))]
    parts += [
        read_back(job, known) for known in (job.baseline, job.backsight, job.line, job.plane, job.below_grade) if known
    ]
    if job.tolerance is not None:
        parts.append(phrase("tolerance", length=length(job.tolerance)))
    if job.place is not None:
        parts.append(phrase("you are at", station=station(job.place)))
    parts.append(phrase("count of readings", count=job.reading_count))
    return parts
