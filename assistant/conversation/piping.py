"""A pipe in its trench: the line is its invert; above it the wall and the cover, below it the wall and the bedding."""

from __future__ import annotations

from dataclasses import replace
from fractions import Fraction
from typing import Any

from assistant.book.exact_json import encode
from assistant.conversation import designing
from assistant.conversation.turn import Turn
from assistant.job import expect
from assistant.job.records import feet
from assistant.job.state import Job
from assistant.wording.phrase import computed, length, phrase, reply, station
from assistant.wording.said import Said
from grammar.meanings import AskBoard, AskCover, AskPart, SetPipe
from grammar.quantities import Length, Place, Station
from grammar.spoken import SHOWN_STEP


def below(job: Job, pipe: SetPipe) -> Length:
    """How far below the invert the dig ends: wall and bedding."""
    marking = job.marking or pipe.inside.marking
    amount = computed(job, _feet(pipe.wall) + _feet(pipe.bedding), marking).amount
    return Length(amount, marking, SHOWN_STEP[marking])


def payload(job: Job, pipe: SetPipe) -> dict[str, Any]:
    """The entry of a pipe."""
    return {**encode(pipe), "below": encode(below(job, pipe))}


def read_back(job: Job, pipe: SetPipe) -> Said:
    """The pipe as understood, and what that means for the dig."""
    parts = [phrase("pipe", inside=length(pipe.inside))]
    if pipe.wall is not None:
        parts.append(phrase("pipe wall", wall=length(pipe.wall)))
    if pipe.bedding is not None:
        parts.append(phrase("pipe bedding", bedding=length(pipe.bedding)))
    deep = below(job, pipe)
    parts.append(phrase("pipe below", below=length(deep)) if deep.amount else phrase("pipe on grade"))
    whole = reply(*parts)
    return Said(whole.shown, whole.spoken)


def part(job: Job, meaning: AskPart) -> Turn:
    """What the rod reads on a part of the pipe, and its elevation where the set-up tells it."""
    place = _on_the_line(meaning.station or job.place)
    on_grade = expect.rod_on_grade(job, place)
    if on_grade is None:
        return Turn(reply(phrase("no grade known")))
    if job.pipe is None and meaning.part != "invert":
        return Turn(reply(phrase("no pipe")))
    rod = on_grade + _under_invert(job, meaning.part)
    at = phrase("everywhere") if place is None else station(place)
    parts = [phrase(f"rod on {meaning.part}", at=at, reading=length(computed(job, rod)))]
    if rod < 0:
        parts = [phrase(f"above beam {meaning.part}", at=at)]
    instrument = job.height_of_instrument()
    if instrument is not None and job.under is not None:
        marking = job.under.elevation.marking
        parts.append(phrase("elevation", elevation=length(computed(job, instrument - rod, marking))))
    return Turn(reply(*parts, *designing.beside(job, place)))


def cover(job: Job, meaning: AskCover) -> Turn:
    """From the ground as it was read there, under this set-up, down to the top of the pipe."""
    place = _on_the_line(meaning.station or job.place)
    on_grade = expect.rod_on_grade(job, place)
    if on_grade is None:
        return Turn(reply(phrase("no grade known")))
    if job.pipe is None:
        return Turn(reply(phrase("no pipe")))
    if place is None:
        return Turn(reply(phrase("which station")))
    under_this_set_up = (record for record, _ in zip(job.readings(), range(job.since_set_up), strict=False))
    record = next((record for record in under_this_set_up if record.station == place), None)
    if record is None:
        return Turn(reply(phrase("no ground read", station=station(place))))
    amount = on_grade + _under_invert(job, "top of pipe") - feet(record.reading)
    name = "cover" if amount > 0 else "no cover"
    said = phrase(
        name, station=station(place), amount=length(computed(job, abs(amount))), ground=length(record.reading)
    )
    return Turn(reply(said))


def board(job: Job, meaning: AskBoard) -> Turn:
    """What the rod reads when it stands on a batter board."""
    if job.boards is None:
        return Turn(reply(phrase("no boards")))
    place = _on_the_line(meaning.station or job.place)
    on_grade = expect.rod_on_grade(job, place)
    if on_grade is None or place is None:
        return Turn(reply(phrase("no grade known" if on_grade is None else "which station")))
    rod = on_grade - feet(job.boards)
    if rod < 0:
        return Turn(reply(phrase("board above beam", station=station(place))))
    said = phrase("rod on board", station=station(place), reading=length(computed(job, rod)), above=length(job.boards))
    return Turn(reply(said, *designing.beside(job, place)))


def _on_the_line(place: Place | None) -> Place | None:
    """A pipe lies in its line, whatever the offset of the rod."""
    return replace(place, offset=None) if isinstance(place, Station) else place


def _under_invert(job: Job, part: str) -> Fraction:
    """Feet from the invert down to a part of the pipe; negative where it is above."""
    pipe = job.pipe
    if part == "invert" or pipe is None:
        return Fraction(0)
    if part == "top of pipe":
        return -feet(pipe.inside) - _feet(pipe.wall)
    return _feet(pipe.wall) + _feet(pipe.bedding)


def _feet(value: Length | None) -> Fraction:
    return Fraction(0) if value is None else feet(value)
