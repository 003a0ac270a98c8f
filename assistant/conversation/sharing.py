"""A misclosure shared out among the set-ups of a run of levels: equally, or by the length of their sights."""

from __future__ import annotations

from fractions import Fraction
from typing import Any

from assistant.book.exact_json import encode
from assistant.conversation import sloping
from assistant.conversation.levelling import FINE_STEP
from assistant.grade import levelling
from assistant.job.records import feet
from assistant.job.state import Job
from assistant.wording.phrase import computed, length, phrase
from assistant.wording.said import Said
from grammar.meanings import AskAdjusted, SetAdjustment, SetSights
from grammar.quantities import Length
from grammar.spoken import half_up


def refusal(job: Job, meaning: SetSights) -> Said | None:
    """Why these sights belong to no set-up, if they do not."""
    if job.set_ups == 0:
        return phrase("no instrument")
    if meaning.turning_point is not None and _turning_point(job, meaning.turning_point) is None:
        return phrase("no such turning point", number=meaning.turning_point)
    far = _together(job, meaning)
    if far is None:
        return phrase("pace unknown")
    return phrase("no distance") if far == 0 else None


def read_back(job: Job, meaning: SetSights | SetAdjustment) -> Said:
    """The sights with the set-up that they belong to, or how a miss is shared out."""
    if isinstance(meaning, SetAdjustment):
        return phrase("adjust by distance" if meaning.by_distance else "adjust equally")
    return phrase(
        "sights",
        number=_set_up(job, meaning),
        back=sloping.said_distance(meaning.back),
        ahead=sloping.said_distance(meaning.ahead),
    )


def payload(job: Job, meaning: SetSights) -> dict[str, Any]:
    """The sights as said, with the number of their set-up, and their feet together."""
    return {**encode(meaning), "set_up": _set_up(job, meaning), "length_ft": str(_together(job, meaning))}


def missing(job: Job) -> list[Said]:
    """Which sights are still to be said before a closed run can be shared out by distance."""
    run = job.levels
    if run.misclosure is None:
        return []
    without = next((number for number in range(1, run.set_ups + 1) if number not in run.sights), None)
    if without is None:
        return []
    point = next((at for at, (set_up, _) in enumerate(run.turning_points, 1) if set_up == without), None)
    if point is None:
        return [phrase("last sights unknown", number=without)]
    return [phrase("sights unknown", number=without, point=point)]


def told(job: Job, meaning: AskAdjusted) -> list[Said]:
    """The elevation of a turning point with its share of the misclosure taken off.

    Source: rule of the checks; shares that grow along the run as in L02, L04, L09, L13 and L22.
    """
    found, run = _turning_point(job, meaning.turning_point), job.levels
    if found is None:
        return [phrase("no such turning point", number=meaning.turning_point)]
    if run.misclosure is None:
        return [phrase("not closed")]
    if job.by_distance and missing(job):
        return missing(job)
    set_up, carried = found
    amount = computed(job, feet(carried) + _corrections(job)[set_up - 1], carried.marking)
    step = FINE_STEP[carried.marking]
    return [
        phrase(
            "adjusted by distance" if job.by_distance else "adjusted equally",
            number=meaning.turning_point,
            elevation=length(Length(half_up(amount.amount, step), amount.marking, step)),
        )
    ]


def _corrections(job: Job) -> list[Fraction]:
    run = job.levels
    assert run.misclosure is not None
    if not job.by_distance:
        return levelling.equal_corrections(run.misclosure, run.set_ups)
    sights = [run.sights[number] for number in range(1, run.set_ups + 1)]
    return levelling.corrections_by_distance(run.misclosure, sights)


def _turning_point(job: Job, number: int) -> tuple[int, Length] | None:
    points = job.levels.turning_points
    return points[number - 1] if 0 < number <= len(points) else None


def _set_up(job: Job, meaning: SetSights) -> int:
    found = None if meaning.turning_point is None else _turning_point(job, meaning.turning_point)
    return job.set_ups if found is None else found[0]


def _together(job: Job, meaning: SetSights) -> Fraction | None:
    back, ahead = (sloping.measured(job, distance) for distance in (meaning.back, meaning.ahead))
    return None if back is None or ahead is None else back.length + ahead.length
