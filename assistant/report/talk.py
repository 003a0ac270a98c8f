"""What was said about the book itself: corrections, questions, and words for safety."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from itertools import chain, pairwise

from assistant.book.entries import Row, canonical
from assistant.report.lines import Line, Rows, Standing
from assistant.wording.phrase import texts


@dataclass
class Correction:
    """What was taken back, by which entry, and what stands in its place."""

    taken: Line
    taken_said: str
    by: int
    successor: Line | None = None
    successor_said: str = ""


@dataclass(frozen=True)
class Exchange:
    """A question, and what became of it."""

    entry: int
    time: str
    asked: str
    answered: str
    outcome: str


def corrections(rows: Rows, standing: Standing) -> Iterator[Correction]:
    """Every entry that was taken back, with the next of its kind and place that stands."""
    taken = {row.sequence: row for row in rows() if row.sequence in standing.scratched}
    found: list[Correction] = []
    waiting: dict[str, defaultdict[str | None, list[Correction]]] = {}  # by kind, and by place where it counts
    for row in rows():
        if after := waiting.get(row.kind):
            there = after.pop(_place(row), []) if row.sequence not in standing.scratched else []
            for correction in [*after.pop(None, []), *there]:
                correction.successor, correction.successor_said = standing.line(row), row.reply
        if row.kind == "scratch":
            before = taken[int(row.payload["sequence"])]
            found.append(Correction(standing.line(before), before.reply, row.sequence))
            wanted = None if row.payload.get("corrected") else _place(before)
            waiting.setdefault(before.kind, defaultdict(list))[wanted].append(found[-1])
    yield from found


def _place(row: Row) -> str:
    return canonical({"station": row.payload.get("station")})


def exchanges(rows: Iterable[Row]) -> Iterator[Exchange]:
    """Every question, with what followed."""
    for row, after in pairwise(chain(rows, [None])):
        assert row is not None
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


def cautions(rows: Iterable[Row]) -> Iterator[tuple[int, str, str]]:
    """What was said for safety, at the opening and where a dig got deep: entry, time, words."""
    deep = [text[0].upper() + text[1:] for name, text in texts().items() if name.startswith("deep ")]
    for row in rows:
        said = [texts()["caution"]] if row.kind == "opened" else [text for text in deep if text in row.reply]
        yield from ((row.sequence, row.time[11:19], text) for text in said)
