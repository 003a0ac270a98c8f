"""An entry as a report names it: its number, time, kind and place, and whether it stands and is proven."""

from __future__ import annotations

from dataclasses import dataclass

from assistant.book.entries import Row
from assistant.job.records import decode_place
from assistant.report.ledger import unproven
from grammar.spoken import show_place


@dataclass(frozen=True)
class Line:
    """One entry. `stands` is false once it was taken back."""

    sequence: int
    time: str
    kind: str
    station: str
    stands: bool
    proven: bool


def lines(rows: list[Row], scratched: set[int]) -> dict[int, Line]:
    """Every entry by its number."""
    doubtful = unproven(row for row in rows if row.sequence not in scratched)
    return {
        row.sequence: Line(
            row.sequence,
            row.time[11:19],
            row.kind,
            _place(row) if row.kind == "reading" else "",
            row.sequence not in scratched,
            row.sequence not in doubtful,
        )
        for row in rows
    }


def _place(row: Row) -> str:
    place = decode_place(row.payload["station"])
    return "" if place is None else show_place(place)
