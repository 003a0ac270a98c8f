"""What was said about the book itself: corrections, questions, and words for safety."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from itertools import zip_longest

from assistant.book.entries import Row
from assistant.conversation.phrase import texts
from assistant.report.lines import Line


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
    for number, row in enumerate(rows):
        if row.kind != "scratch":
            continue
        taken = by_number[int(row.payload["sequence"])]
        later = (
            other
            for other in rows[number:]
            if other.kind == taken.kind
            and (other.sequence not in scratched or row.payload.get("corrected"))
            and (other.payload.get("station") == taken.payload.get("station") or row.payload.get("corrected"))
        )
        successor = next(later, None)
        yield Correction(
            by_entry[taken.sequence],
            taken.reply,
            row.sequence,
            None if successor is None else by_entry[successor.sequence],
        )


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
