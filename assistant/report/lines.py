"""An entry as a report names it: its number, time, kind and place, and whether it stands and is proven."""

from __future__ import annotations

import json
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from functools import lru_cache
from typing import Any, Protocol

from assistant.book.entries import Row
from assistant.job.records import decode_place
from assistant.report.ledger import CHECKS, SET_UPS, unproven
from grammar.spoken import show_place


class Rows(Protocol):
    """The rows of a book, walked as often as it takes, so that a long book is never held whole."""

    def __call__(self, *kinds: str) -> Iterator[Row]:
        """All rows in order, or those of these kinds."""


def held(rows: Sequence[Row]) -> Rows:
    """Rows that are at hand."""
    return lambda *kinds: (row for row in rows if not kinds or row.kind in kinds)


@dataclass(frozen=True)
class Line:
    """One entry. `stands` is false once it was taken back."""

    sequence: int
    time: str
    kind: str
    station: str
    stands: bool
    proven: bool


@dataclass(frozen=True)
class Standing:
    """Which entries of a book were taken back, and which readings are unproven."""

    scratched: frozenset[int]
    doubtful: frozenset[int]

    @classmethod
    def of(cls, rows: Rows) -> Standing:
        """What stands among rows."""
        scratched = frozenset(int(row.payload["sequence"]) for row in rows("scratch"))
        bearing = (row for row in rows("reading", *SET_UPS, *CHECKS) if row.sequence not in scratched)
        return cls(scratched, frozenset(unproven(bearing)))

    def among(self, rows: Iterator[Row]) -> Iterator[Row]:
        """The rows that stand."""
        return (row for row in rows if row.kind != "scratch" and row.sequence not in self.scratched)

    def line(self, row: Row, payload: Mapping[str, Any] | None = None) -> Line:
        """An entry as it is named; its `payload`, where that was read already."""
        return Line(
            row.sequence,
            row.time[11:19],
            row.kind,
            place(payload or row.payload) if row.kind == "reading" else "",
            row.sequence not in self.scratched,
            row.sequence not in self.doubtful,
        )


def place(payload: Mapping[str, Any]) -> str:
    """Where something was read, in figures."""
    return _shown(json.dumps(payload["station"]))


@lru_cache(maxsize=8192)
def _shown(station: str) -> str:
    """A job reads at the same places again and again."""
    found = decode_place(json.loads(station))
    return "" if found is None else show_place(found)
