"""Sums of the trade: falls, slopes, distances, sizes, and one unit in another. They need no job, but for its units."""

from __future__ import annotations

from fractions import Fraction

from assistant.conversation import sloping
from assistant.conversation.proving import FINE_STEP
from assistant.grade import distance as pacing
from assistant.grade import sizes
from assistant.grade.slope import rise_over_run, slope_amount
from assistant.job.records import feet
from assistant.job.state import Job
from assistant.wording.phrase import computed, length, listed, paces, phrase, slope
from assistant.wording.said import Said
from grammar.meanings import (
    AskConcrete,
    AskCurvature,
    AskDiagonal,
    AskDistance,
    AskFall,
    AskPaces,
    AskSlope,
    AskSlopeBetween,
    AskTotal,
    ConvertLength,
    ConvertSlope,
)
from grammar.quantities import Distance, Length, Marking, Paces, Slope, SlopeUnit
from grammar.spoken import half_up, say_decimal

VOLUME_STEP = Fraction(1, 100)
"""Cubic yards or metres to which a volume is rounded. Common practice, no source."""

SLOPE_STEP = {
    SlopeUnit.PERCENT: Fraction(1, 100),
    SlopeUnit.INCH_PER_FOOT: Fraction(1, 100),
    SlopeUnit.ONE_IN: Fraction(1, 10),
    SlopeUnit.DEGREES: Fraction(1, 100),
}

PACE_STEP = Fraction(1, 2)
"""Steps to which a count of paces is rounded. Our own choice."""

SUM = (
    AskFall
    | AskSlope
    | AskSlopeBetween
    | AskDistance
    | AskPaces
    | AskTotal
    | AskCurvature
    | AskDiagonal
    | AskConcrete
    | ConvertSlope
    | ConvertLength
)


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
        case AskPaces():
            return [_paces(job, meaning)]
        case AskTotal():
            return [_total(job, meaning)]
        case AskSlopeBetween():
            return _slope_between(job, meaning)
        case AskCurvature():
            return [_curvature(job, meaning)]
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
        distance=sloping.said_distance(meaning.distance),
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
            distance=sloping.said_distance(meaning.distance),
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
    said = phrase("distance is", distance=sloping.said_distance(distance), length=_in_marking(job, run, distance))
    return [said, *_give_or_take(job, distance, Fraction(1))]


def _paces(job: Job, meaning: AskPaces) -> Said:
    if job.pace is None:
        return phrase("pace unknown")
    count = half_up(feet(meaning.length) / feet(job.pace), PACE_STEP)
    return phrase("paces are", length=length(meaning.length), paces=paces(Paces(count)))


def _total(job: Job, meaning: AskTotal) -> Said:
    first, second = feet(meaning.first), feet(meaning.second)
    amount = first - second if meaning.minus else first + second
    told = (length(meaning.first), length(meaning.second))
    if amount < 0:
        return phrase("less than nothing", first=told[0], second=told[1])
    exact = computed(job, amount, job.marking or meaning.first.marking)
    shown = Length(exact.amount, exact.marking, min(exact.step, meaning.first.step))
    said = length(shown) if half_up(shown.amount, shown.step) == shown.amount else phrase("about", amount=length(shown))
    return phrase("minus" if meaning.minus else "plus", first=told[0], second=told[1], total=said)


def _slope_between(job: Job, meaning: AskSlopeBetween) -> list[Said]:
    run = _run_ft(job, meaning.distance)
    if run is None:
        return [phrase("pace unknown")]
    if run == 0:
        return [phrase("no distance")]
    steep = (feet(meaning.end) - feet(meaning.start)) / run
    way = "level" if steep == 0 else "rising" if steep > 0 else "falling"
    amounts = (rounded_slope(abs(steep), unit) for unit in (SlopeUnit.PERCENT, SlopeUnit.INCH_PER_FOOT))
    return [
        phrase(
            f"between {way}",
            start=length(meaning.start),
            end=length(meaning.end),
            distance=sloping.said_distance(meaning.distance),
            amounts=listed(amounts, "that is") if steep else Said("", ""),
        )
    ]


def _curvature(job: Job, meaning: AskCurvature) -> Said:
    high = pacing.curvature_and_refraction(feet(meaning.length))
    shown = computed(job, high)
    fine = length(Length(shown.amount, shown.marking, FINE_STEP[shown.marking]))
    return phrase("curvature", length=length(meaning.length), high=fine)


def _run_ft(job: Job, distance: Distance) -> Fraction | None:
    far = sloping.measured(job, distance)
    return None if far is None else far.length


def _give_or_take(job: Job, distance: Distance, per_foot: Fraction) -> list[Said]:
    if isinstance(distance, Length) or job.pace is None:
        return []
    doubt = pacing.paced(distance.count, feet(job.pace)).give_or_take * per_foot
    shown = computed(job, doubt)
    if half_up(shown.amount, shown.step) == 0:
        return []
    return [phrase("give or take", amount=length(shown))]


def _in_marking(job: Job, amount_ft: Fraction, distance: Distance) -> Said:
    marking = job.marking or (distance.marking if isinstance(distance, Length) else None)
    return length(computed(job, amount_ft, marking))


def rounded_slope(steep: Fraction, unit: SlopeUnit) -> Said:
    """A computed slope, with "about" where rounding lost something."""
    amount = slope_amount(steep, unit.value)
    if amount is None:
        return phrase("level slope")
    on_a_rule = unit is SlopeUnit.INCH_PER_FOOT and (amount * 16).denominator == 1
    rounded = amount if on_a_rule else half_up(amount, SLOPE_STEP[unit])
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
