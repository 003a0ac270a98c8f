"""Whether the sums of a book are right: each entry worked out again from those before it."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator
from fractions import Fraction

from assistant.book.entries import Row
from assistant.book.errors import UNFIT, UnfitEntry, UnknownKind
from assistant.book.exact_json import decode
from assistant.grade import levels
from assistant.job import expect
from assistant.job.records import decode_place
from assistant.job.state import Job
from assistant.report.amounts import feet_of
from grammar.quantities import Length

KEPT_BACK = 500
"""Entries that are held, so that the last ones can be taken back at once."""


WORKED_OUT = ("reading", "foresight", "close", "backsight")
"""Kinds of entries with figures of ours in them."""


class Sums:
    """The sums as the rows are walked. `walked_until` gives the rows up to a number again, to take back an old one."""

    def __init__(self, walked_until: Callable[[int], Iterable[Row]]) -> None:
        self._walked_until = walked_until
        self._job: Job | None = Job()
        self._held = 0
        self._whole = True

    def findings(self, row: Row) -> Iterator[str]:
        """The figures of the next row that do not follow from what was written before it."""
        job = self._job
        if job is None:
            return
        try:
            wrong = list(_wrong(job, row))
            job.apply(row)
            self._forget(job, row.sequence)
        except (UnfitEntry, UnknownKind, *UNFIT):
            self._job = None
            yield f"entry {row.sequence} cannot be worked out again ({row.kind})"
        else:
            yield from (f"entry {row.sequence}: the {what} does not follow from the entries before" for what in wrong)

    def _forget(self, job: Job, last: int) -> None:
        """Hold little of a long book. Where it was walked again once, no more is forgotten: it is not walked twice."""
        self._held += 1
        if self._held >= 2 * KEPT_BACK and job.reaches_back == self._whole:
            job.forget(KEPT_BACK, lambda: Job.folded(self._walked_until(last)))
            self._held, self._whole = KEPT_BACK, job.reaches_back


LENGTHS = ("reading", "elevation", "carried", "known")
"""Names of what is a length in every kind of entry."""


def check_figures(row: Row) -> None:
    """Raise `UnfitEntry` where a figure in an entry, worked out or not, is of another type than any entry has."""
    try:
        for name, value in row.payload.items():
            if value is None:
                continue
            if name.endswith("_ft"):
                decode(Fraction, value)
            elif name == "grade":
                decode(Fraction, value["amount_ft"])
            elif name == "give_or_take":
                decode(dict, value)
                for amount in value.values():
                    decode(Fraction, amount)
            elif name in LENGTHS or (isinstance(value, dict) and "marking" in value):
                decode(Length, value)
                feet_of(value)
    except UNFIT as trouble:
        raise UnfitEntry(row.sequence) from trouble


def _wrong(job: Job, row: Row) -> Iterator[str]:
    if row.kind not in WORKED_OUT:
        return
    payload, instrument = row.payload, job.height_of_instrument()
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
