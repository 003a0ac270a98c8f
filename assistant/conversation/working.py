"""What a reading writes, and taking back."""

from __future__ import annotations

from dataclasses import replace
from fractions import Fraction
from typing import Any

from assistant.book.entries import Entry
from assistant.book.exact_json import encode
from assistant.conversation import designing, sureness
from assistant.conversation.turn import Turn
from assistant.grade import levels
from assistant.job import expect
from assistant.job.records import ReadingRecord, Written, feet
from assistant.job.state import Job
from assistant.wording.phrase import computed, grade, length, phrase, reply, station
from assistant.wording.said import Reply, Said
from grammar.meanings import Reading
from grammar.quantities import Length, Place

DEEP = (5, 4)
"""Feet of cut at which a caution is given."""


def refusal(job: Job, meaning: Reading) -> Said | None:
    """Why this reading cannot be written as things stand, if it cannot."""
    if job.line is not None and meaning.station is None and job.place is None:
        return phrase("which station")
    return None


def write(job: Job, meaning: Reading) -> Turn:
    """Write the reading with the grade that it shows."""
    place = meaning.station or job.place
    rod, result = _result(job, meaning, place)
    hi = job.height_of_instrument()
    payload: dict[str, Any] = {
        "reading": encode(meaning.length),
        "station": encode(place),
        "grade_rod_ft": None if rod is None else str(rod),
        "grade": None if result is None else {"kind": result.kind, "amount_ft": str(result.amount)},
        "below": encode(job.below),
        "elevation_ft": None if hi is None else str(hi - feet(meaning.length)),
    }
    sure = {} if rod is None else sureness.of_reading(job, meaning.length, place)
    if sure:
        payload["give_or_take"] = {cause: str(amount) for cause, amount in sure.items()}
    parts = [_read_back(meaning, place), *_answer(job, payload, result)]
    if result is not None:
        parts += [*sureness.when_it_matters(job, sure), *designing.beside(job, place)]
    parts += _caution(job, result)
    if job.moved:
        parts.append(phrase("unproven reading"))
    return Turn(reply(*parts), (Entry("reading", payload),))


def _caution(job: Job, result: levels.Grade | None) -> list[Said]:
    """A word when the dig gets deep; not again while it stays so."""
    before = job.last_reading.grade if job.last_reading is not None else None
    depth = _deep(result)
    return [phrase(f"deep {depth}")] if depth and depth > _deep(before) else []


def _deep(result: levels.Grade | None) -> int:
    """The depth in feet that calls for a caution: 5, 4 or, of less, 0.

    Source: 29 CFR 1926.652(a)(1) as copied (check Y10, read) for 5 ft; toolbox talks (check Y16, quoted) for 4 ft.
    """
    if result is None or result.kind != "cut":
        return 0
    return next((feet for feet in DEEP if result.amount >= feet), 0)


def scratch(job: Job) -> Turn:
    """Take the last entry back, as an entry."""
    last = job.last_entry()
    if last is None:
        return Turn(reply(phrase("nothing to scratch")))
    entry = Entry("scratch", {"sequence": last.sequence, "of": last.kind})
    return Turn(reply(phrase("scratched", what=named(last))), (entry,))


def instead(job: Job, turn: Turn, entry: int) -> Turn:
    """What a turn writes, in the place of an entry that stands; the place of work stays where it is."""
    row = job.standing(entry)
    entries = (Entry("scratch", {"sequence": entry, "of": row.kind, "corrected": True}), *turn.entries)
    here, named_by = encode(job.place), job.place_named_by
    moved = any(one.payload.get("station", here) != here for one in turn.entries)
    if moved and named_by is not None and named_by[0].sequence != entry:
        entries = (*entries, Entry("place", {"station": here}))
    before = reply(phrase("instead of" if row.kind == "reading" else "scratched", what=named(row)))
    told = turn.reply
    told = Reply(f"{before.shown} {told.shown}", f"{before.spoken} {told.spoken}", told.asks)
    return replace(turn, reply=told, entries=entries)


def named(row: Written) -> Said:
    """An entry of the book in a few words: a reading by what was read, another by its kind."""
    return in_book(ReadingRecord(row, None)) if row.kind == "reading" else phrase(f"{row.kind} entry")


def in_book(record: ReadingRecord) -> Said:
    """A reading in the book: "three foot nine at station forty"."""
    return read_at(record.reading, record.station)


def read_at(reading: Length, place: Place | None) -> Said:
    """A reading and its place."""
    read = length(reading)
    return read if place is None else phrase("reading at", reading=read, station=station(place))


def _result(job: Job, meaning: Reading, place: Place | None) -> tuple[Fraction | None, levels.Grade | None]:
    rod = expect.grade_rod(job, place)
    if rod is None:
        return None, None
    return rod, levels.cut_or_fill(rod, feet(meaning.length), expect.tolerance_ft(job))


def _read_back(meaning: Reading, place: Place | None) -> Said:
    read = length(meaning.length)
    if place is None:
        return phrase("reading", reading=read)
    return phrase("reading with place", reading=read, station=station(place))


def _answer(job: Job, payload: dict[str, Any], result: levels.Grade | None) -> list[Said]:
    if result is not None:
        if job.line is not None or job.below_grade is not None:
            return [phrase("graded", grade=grade(job, result, job.below))]
        if result.kind == "on grade":
            return [phrase("on the plane" if job.plane else "level with the baseline")]
        return [phrase("to the plane" if job.plane else "to the baseline", grade=grade(job, result, job.below))]
    if payload["elevation_ft"] is not None:
        return [_elevation(job, payload["elevation_ft"])]
    return [phrase("no grade")]


def _elevation(job: Job, elevation_ft: str) -> Said:
    assert job.under is not None
    amount = computed(job, Fraction(elevation_ft), job.under.elevation.marking)
    return phrase("elevation", elevation=length(amount))
