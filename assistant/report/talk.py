"""What was said about the book itself: corrections, questions, and words for safety."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from itertools import zip_longest

from assistant.book.entries import Row, canonical
from assistant.report.lines import Line
from assistant.wording.phrase import texts


@dataclass(frozen=True)
class Correction:
    """What was taken back, by which entry, and what stands in its place."""

    taken: Line
    taken_said: str
    by: int
    successor: Line | None


@dataclass(frozen=True)
class Exchange:
    """A question, and what became of it."""

    entry: int
    time: str
    asked: str
    answered: str
    outcome: str


def corrections(rows: list[Row], by_entry: dict[int, Line], scratched: set[int]) -> Iterator[Correction]:
    """Every entry that was taken back, with the next of its kind and place that stands."""
    by_number = {row.sequence: row for row in rows}
    found: list[Correction] = []
    following: dict[str, int] = {}  # by kind, the next entry, for the walk goes back from the end
    standing: dict[tuple[str, str], int] = {}
    for row in reversed(rows):
        if row.kind == "scratch":
            taken = by_number[int(row.payload["sequence"])]
            corrected = row.payload.get("corrected")
            later = following.get(taken.kind) if corrected else standing.get(_kind_and_place(taken))
            successor = None if later is None else by_entry[later]
            found.append(Correction(by_entry[taken.sequence], taken.reply, row.sequence, successor))
        following[row.kind] = row.sequence
        if row.sequence not in scratched:
            standing[_kind_and_place(row)] = row.sequence
    yield from reversed(found)


def _kind_and_place(row: Row) -> tuple[str, str]:
    return row.kind, canonical({"station": row.payload.get("station")})


def exchanges(rows: list[Row]) -> Iterator[Exchange]:
    """Every question, with what followed."""
    for row, after in zip_longest(rows, rows[1:]):
        if row.kind != "question":
            continue
        if after is None:
            answered, outcome = "", "still open: nothing was written"
        else:
            answered = after.heard or ""
            outcome = {
                "dismissed": "nothing was written",
                "place": "left, nothing was written",
                "question": f"asked on, entry {after.sequence}",
            }.get(after.kind, f"written, entry {after.sequence}")
        yield Exchange(row.sequence, row.time[11:19], row.reply, answered, outcome)


def cautions(rows: list[Row]) -> Iterator[tuple[int, str, str]]:
    """What was said for safety, at the opening and where a dig got deep: entry, time, words."""
    deep = [text[0].upper() + text[1:] for name, text in texts().items() if name.startswith("deep ")]
    for row in rows:
        said = [texts()["caution"]] if row.kind == "opened" else [text for text in deep if text in row.reply]
        yield from ((row.sequence, row.time[11:19], text) for text in said)
