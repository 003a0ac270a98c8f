"""Whether the sums of a book are right: each entry worked out again from those before it."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from fractions import Fraction

from assistant.book.entries import Row
from assistant.grade import levels
from assistant.job import expect
from assistant.job.records import decode_place
from assistant.job.state import Job
from assistant.report.amounts import feet_of


def findings(rows: Iterable[Row]) -> Iterator[str]:
    """Name each entry whose figures do not follow from what was written before it."""
    job = Job()
    for row in rows:
        try:
            wrong = list(_wrong(job, row))
            job.apply(row)
        except (KeyError, TypeError, ValueError, AttributeError, AssertionError, ZeroDivisionError):
            yield f"entry {row.sequence} cannot be worked out again ({row.kind})"
            return
        yield from (f"entry {row.sequence}: the {what} does not follow from the entries before" for what in wrong)


def _wrong(job: Job, row: Row) -> Iterator[str]:
    payload = row.payload
    instrument = job.height_of_instrument()
    match row.kind:
        case "reading":
            reading = feet_of(payload["reading"])
            rod = expect.grade_rod(job, decode_place(payload["station"]))
            if _fraction(payload["grade_rod_ft"]) != rod:
                yield "grade rod"
            grade = payload["grade"]
            result = None if rod is None else levels.cut_or_fill(rod, reading, expect.tolerance_ft(job))
            if (None if grade is None else (grade["kind"], Fraction(grade["amount_ft"]))) != (
                None if result is None else (result.kind, result.amount)
            ):
                yield "cut or fill"
            if _fraction(payload["elevation_ft"]) != (None if instrument is None else instrument - reading):
                yield "elevation"
        case "foresight":
            if instrument is None or feet_of(payload["elevation"]) != instrument - feet_of(payload["reading"]):
                yield "elevation"
        case "close":
            carried, known = feet_of(payload["carried"]), feet_of(payload["known"])
            if instrument is None or carried != instrument - feet_of(payload["reading"]):
                yield "elevation"
            if Fraction(payload["misclosure_ft"]) != carried - known:
                yield "misclosure"
        case "backsight" if payload.get("number") is None and job.benchmark is not None:
            under = feet_of({"amount": job.benchmark.elevation.amount, "unit": job.benchmark.elevation.marking.unit})
            if Fraction(payload["height_of_instrument_ft"]) != under + feet_of(payload["reading"]):
                yield "height of the instrument"
        case _:
            return


def _fraction(text: str | None) -> Fraction | None:
    return None if text is None else Fraction(text)
