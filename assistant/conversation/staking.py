"""Stakes beside the work: what to write on them, how far to drive them, and where the bank meets the ground."""

from __future__ import annotations

from dataclasses import replace
from fractions import Fraction
from typing import Any

from assistant.book.entries import Entry
from assistant.book.exact_json import encode
from assistant.conversation import designing
from assistant.conversation.turn import Turn
from assistant.grade import levels, stakes
from assistant.job import expect
from assistant.job.records import feet
from assistant.job.state import Job
from assistant.wording.phrase import computed, grade, length, phrase, reply, station
from assistant.wording.said import Said
from grammar.meanings import BlueTop, Catch, Stake
from grammar.quantities import Place, Station

STAKING = Stake | BlueTop | Catch

CATCH_WITHIN = Fraction(1, 10)
"""Feet within which a slope stake is where it should be. Common practice, no source."""


def refusal(job: Job, meaning: STAKING) -> Said | None:
    """Why there is nothing to stake, if there is nothing."""
    place = meaning.station or job.place
    if place is None:
        return phrase("which station")
    if isinstance(meaning, Catch) and job.slope_stakes is None:
        return phrase("no slope stakes")
    if _grade_rod(job, meaning, place) is None:
        return phrase("no grade known")
    return None


def write(job: Job, meaning: STAKING) -> Turn:
    """Write the reading on the stake, and tell what to do with it."""
    place = meaning.station or job.place
    assert place is not None
    rod = _grade_rod(job, meaning, place)
    assert rod is not None
    name = {Stake: "stake", BlueTop: "blue top", Catch: "catch"}[type(meaning)]
    result = levels.cut_or_fill(rod, feet(meaning.reading), expect.tolerance_ft(job))
    payload: dict[str, Any] = {
        "reading": encode(meaning.reading),
        "station": encode(place),
        "grade_rod_ft": str(rod),
        "grade": {"kind": result.kind, "amount_ft": str(result.amount)},
    }
    read = phrase(f"{name} read", reading=length(meaning.reading), station=station(place))
    match meaning:
        case Stake():
            parts = _stake(job, place, result)
        case BlueTop():
            parts = [_blue_top(job, result), *designing.beside(job, place)]
        case Catch():
            out, parts = _catch(job, meaning, result)
            payload["out_ft"] = str(out)
    return Turn(reply(read, *parts), (Entry(name, payload),))


def _grade_rod(job: Job, meaning: STAKING, place: Place) -> Fraction | None:
    """A stake tells the cut at the line itself, a slope stake that of the bed; a blue top the surface where it is."""
    if isinstance(place, Station) and not isinstance(meaning, BlueTop):
        place = replace(place, offset=None)
    rod = expect.rod_on_grade(job, place)
    if rod is None or isinstance(meaning, Stake):
        return rod
    return rod + (feet(job.below) if job.below is not None else 0)


def _stake(job: Job, place: Place, result: levels.Grade) -> list[Said]:
    parts = [phrase("write on it", station=station(place), grade=grade(job, result, None))]
    if job.below_grade is not None:
        signed = (result.amount if result.kind == "cut" else -result.amount) + feet(job.below_grade.length)
        deep = levels.cut_or_fill(signed, Fraction(0), expect.tolerance_ft(job))
        parts.append(phrase("to the bottom", grade=grade(job, deep, None)))
    down = expect.step_down(job, place)
    return [*parts, phrase("steps down here", drop=length(computed(job, down)))] if down else parts


def _blue_top(job: Job, result: levels.Grade) -> Said:
    if result.kind == "on grade":
        return phrase("blue")
    return phrase("drive it" if result.kind == "cut" else "too low", amount=length(computed(job, result.amount)))


def _catch(job: Job, meaning: Catch, result: levels.Grade) -> tuple[Fraction, list[Said]]:
    assert job.slope_stakes is not None
    out = stakes.catch_distance(feet(job.slope_stakes.bed), job.slope_stakes.bank.across, result.amount)
    stands = abs(expect.offset_left(meaning.station))
    told = grade(job, result, None)
    if abs(out - stands) <= CATCH_WITHIN:
        return out, [phrase("catch point", grade=told, station=station(meaning.station))]
    name = "go out" if out > stands else "go in"
    by = length(computed(job, abs(out - stands)))
    return out, [phrase("catch trial", grade=told, out=length(computed(job, out))), phrase(name, by=by)]
