"""Sums of the trade: falls, slopes, distances, sizes, and one unit in another. They need no job, but for its units."""

from __future__ import annotations

from fractions import Fraction

from assistant.conversation.phrase import computed, length, listed, paces, phrase, slope
from assistant.conversation.turn import Said
from assistant.grade import distance as pacing
from assistant.grade import sizes
from assistant.grade.slope import rise_over_run, slope_amount
from assistant.job import Job, feet
from grammar.meanings import (
    AskConcrete,
    AskDiagonal,
    AskDistance,
    AskFall,
    AskSlope,
    ConvertLength,
    ConvertSlope,
)
from grammar.quantities import Distance, Length, Marking, Slope, SlopeUnit
from grammar.spoken import half_up, say_decimal

VOLUME_STEP = Fraction(1, 100)
"""Cubic yards or metres to which a volume is rounded. Common practice, no source."""

SLOPE_STEP = {
    SlopeUnit.PERCENT: Fraction(1, 100),
    SlopeUnit.INCH_PER_FOOT: Fraction(1, 100),
    SlopeUnit.ONE_IN: Fraction(1, 10),
    SlopeUnit.DEGREES: Fraction(1, 100),
}

SUM = AskFall | AskSlope | AskDistance | AskDiagonal | AskConcrete | ConvertSlope | ConvertLength


def summed(job: Job, meaning: SUM) -> list[Said]:
    """Do a sum, and tell what it was of."""
    match meaning:
        case AskFall():
            return _fall(job, meaning)
        case AskSlope():
            return _slope(job, meaning)
        case AskDistance():
            return _distance(job, meaning.distance)
        case AskDiagonal():
            return [_diagonal(job, meaning)]
        case AskConcrete():
            return [_concrete(meaning)]
        case ConvertSlope():
            return [_convert_slope(meaning)]
        case ConvertLength():
            return [_convert_length(meaning)]


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
            slope=rounded_slope(steep, SlopeUnit.PERCENT),
            other=rounded_slope(steep, SlopeUnit.INCH_PER_FOOT),
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


def rounded_slope(steep: Fraction, unit: SlopeUnit) -> Said:
    """A computed slope, with "about" where rounding lost something."""
    amount = slope_amount(steep, unit.value)
    if amount is None:
        return phrase("level slope")
    step = SLOPE_STEP[unit]
    rounded = half_up(amount, step)
    said = slope(Slope(rounded, unit))
    return said if rounded == amount else phrase("about", amount=said)


def _convert_slope(meaning: ConvertSlope) -> Said:
    steep = rise_over_run(meaning.slope.amount, meaning.slope.unit.value)
    units = [meaning.unit] if meaning.unit else [u for u in SlopeUnit if u != meaning.slope.unit]
    amounts = [rounded_slope(steep, unit) for unit in units]
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
