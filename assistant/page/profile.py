"""The job seen from the side: where the ground was read, against the grade.

Heights are over the grade at the start of the line, so that readings under different set-ups lie in one picture: the
ground is as far over the grade as the rod read less than the grade rod (`assistant.grade.levels`).
"""

from __future__ import annotations

from collections.abc import Iterable
from fractions import Fraction
from typing import Any

from assistant.book.entries import Row
from assistant.job.expect import rise
from assistant.job.records import ReadingRecord, feet
from assistant.job.state import Job
from assistant.wording.phrase import computed, length, station
from grammar.quantities import Station


def profile(job: Job, rows: Iterable[Row]) -> list[dict[str, Any]]:
    """The last reading that stands at each station, along the line.

    `at`, `grade` and `ground` are feet for the drawing alone; `station` and `result` are what is written beside them.
    """
    every = list(rows)
    scratched = {int(row.payload["sequence"]) for row in every if row.kind == "scratch"}
    points: dict[Fraction, dict[str, Any]] = {}
    for row in every:
        if row.kind == "reading" and row.sequence not in scratched:
            record = ReadingRecord(row, None)
            if record.grade_rod is not None and isinstance(record.station, Station) and record.station.offset is None:
                at = feet(record.station.distance)
                points[at] = _point(job, record, at)
    return [points[at] for at in sorted(points)]


def _point(job: Job, record: ReadingRecord, at: Fraction) -> dict[str, Any]:
    grade = Fraction(0)
    if job.line is not None:
        assert isinstance(record.station, Station)
        grade = rise(job, job.line, record.station)
    assert record.grade_rod is not None and record.station is not None
    over = record.grade_rod - feet(record.reading)
    result = record.grade
    return {
        "at": float(at),
        "grade": float(grade),
        "ground": float(grade + over),
        "station": station(record.station).shown,
        "word": "" if result is None else result.kind,
        "result": "" if result is None or result.kind == "on grade" else length(computed(job, result.amount)).shown,
    }
