"""An entry as a report names it: its number, time, kind and place, and whether it stands and is proven."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

from assistant.book.entries import Row
from assistant.exact_json import decode
from assistant.ledger import unproven
from grammar.quantities import Spot, Station
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
            place(row.payload.get("station")) if row.kind == "reading" else "",
            row.sequence not in scratched,
            row.sequence not in doubtful,
        )
        for row in rows
    }


def place(data: Mapping[str, Any] | None) -> str:
    """A place as a book writes it, as a person reads it: "0+40", or the name of a spot."""
    if data is None:
        return ""
    if "distance" in data:
        return show_place(decode(Station, data))
    return show_place(decode(Spot, data))
