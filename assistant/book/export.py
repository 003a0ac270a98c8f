"""A book as text files, losing nothing."""

from __future__ import annotations

import csv
import json
from collections.abc import Iterable, Iterator, Mapping
from typing import Any, TextIO

from assistant.book.entries import Row, canonical

CSV_COLUMNS = (
    "sequence",
    "time",
    "kind",
    "station",
    "reading",
    "unit",
    "grade_rod_ft",
    "grade",
    "amount_ft",
    "elevation_ft",
    "heard",
    "engine",
    "audio",
    "reply",
    "payload",
    "previous",
    "hash",
)
"""The columns of the CSV. Amounts are exact, such as 15/4; `payload` holds the whole entry as JSON."""


def to_jsonl(rows: Iterable[Row], stream: TextIO) -> None:
    """Write one JSON object a line, with every field of the row."""
    for row in rows:
        stream.write(json.dumps(row.as_json(), ensure_ascii=False) + "\n")


def from_jsonl(stream: TextIO) -> Iterator[Row]:
    """Read back what `to_jsonl` wrote."""
    for line in stream:
        fields = json.loads(line)
        yield Row(payload_text=canonical(fields.pop("payload")), **fields)


def to_csv(rows: Iterable[Row], stream: TextIO) -> None:
    """Write RFC 4180 CSV with `CSV_COLUMNS`; open the stream with `newline=""`."""
    table = csv.DictWriter(stream, CSV_COLUMNS, lineterminator="\r\n")
    table.writeheader()
    for row in rows:
        table.writerow({**row.as_json(), **_amounts(row.payload), "payload": row.payload_text})


def _amounts(payload: Mapping[str, Any]) -> dict[str, str | None]:
    reading = next((payload[name] for name in _READINGS if payload.get(name)), None)
    place = payload.get("station") or payload.get("start")
    return {
        "station": _within(_within(place, "distance"), "amount"),
        "reading": _within(reading, "amount"),
        "unit": _within(reading, "unit"),
        "grade_rod_ft": payload.get("grade_rod_ft"),
        "grade": _within(payload.get("grade"), "kind"),
        "amount_ft": _within(payload.get("grade"), "amount_ft"),
        "elevation_ft": payload.get("elevation_ft"),
    }


_READINGS = ("reading", "length", "elevation")


def _within(data: Any, name: str) -> Any:
    return data.get(name) if isinstance(data, Mapping) else None
