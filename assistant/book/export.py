"""A book as text files, losing nothing.

JSON lines: one object a line, with every field of the row by its name; `payload` is an object.

CSV (RFC 4180, UTF-8, CRLF, a header of `CSV_COLUMNS`): what a person wants in a spreadsheet stands in columns of its
own, as decimals rounded half up to a millionth, because a spreadsheet takes a fraction such as 9/2 for a date; the
exact amounts stand in `payload`, which holds the whole entry as JSON. A spreadsheet also takes a text that begins with
= + - @ for a formula, so such a text is written after an apostrophe. A text that begins with an apostrophe, a tab or a
carriage return gets one more too, and so does an empty text where another cell may hold none: taking one apostrophe
away always gives the text back.
"""

from __future__ import annotations

import csv
import json
from collections.abc import Iterable, Iterator, Mapping
from fractions import Fraction
from typing import Any, NoReturn, TextIO

from assistant.book.entries import Row, canonical, writable
from assistant.book.errors import DamagedBook
from grammar.spoken import half_up

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
"""The columns of the CSV. Amounts are decimals; those that end in `_ft` are feet, `reading` is in `unit`."""

_FORMULA = ("=", "+", "-", "@", "'", "\t", "\r")
_MILLIONTH = Fraction(1, 10**6)
_READINGS = ("reading", "length", "elevation")
_FIELDS = {*Row._fields, "payload"} - {"payload_text"}


def to_jsonl(rows: Iterable[Row], stream: TextIO) -> None:
    """Write one JSON object a line, with every field of the row."""
    for row in rows:
        fields = row._asdict()
        del fields["payload_text"]
        stream.write(writable(json.dumps({**fields, "payload": row.payload}, ensure_ascii=False)) + "\n")


def from_jsonl(stream: Iterable[str]) -> Iterator[Row]:
    """Read back what `to_jsonl` wrote. Raises `DamagedBook`, naming the line, at what is no entry."""
    for number, line in enumerate(stream, 1):
        try:
            fields = json.loads(line, parse_float=_refuse_float, parse_constant=_refuse_float)
            if not isinstance(fields, dict) or set(fields) != _FIELDS or not isinstance(fields["payload"], dict):
                raise ValueError("not the fields of an entry")
            row = Row(payload_text=canonical(fields.pop("payload")), **fields)
            if not row.well_formed():
                raise ValueError("a field of another type")
        except (ValueError, RecursionError) as trouble:
            raise _no_entry(number) from trouble
        yield row


def to_csv(rows: Iterable[Row], stream: TextIO) -> None:
    """Write RFC 4180 CSV with `CSV_COLUMNS`; open the stream with `newline=""`."""
    table = csv.writer(stream, lineterminator="\r\n")
    table.writerow(CSV_COLUMNS)
    for row in rows:
        said = (_optional(row.heard), _optional(row.engine), _optional(row.audio), _text(row.reply))
        start = (row.sequence, row.time, _text(row.kind))
        table.writerow((*start, *_amounts(row.payload), *said, row.payload_text, row.previous, row.hash))


def from_csv(stream: Iterable[str]) -> Iterator[Row]:
    """Read back what `to_csv` wrote; open the stream with `newline=""`. Raises `DamagedBook`, naming the row."""
    table = csv.reader(stream, strict=True)
    number = 0
    try:
        if tuple(next(table, ())) != CSV_COLUMNS:
            raise ValueError("not the columns of a book")
        for cells in table:
            number += 1
            cell = dict(zip(CSV_COLUMNS, cells, strict=True))
            yield Row(
                int(cell["sequence"]),
                cell["time"],
                _bare(cell["kind"]),
                cell["payload"],
                _bare(cell["heard"]) if cell["heard"] else None,
                _bare(cell["engine"]) if cell["engine"] else None,
                _bare(cell["audio"]) if cell["audio"] else None,
                _bare(cell["reply"]),
                cell["previous"],
                cell["hash"],
            )
    except (ValueError, csv.Error) as trouble:
        raise _no_entry(number + 1) from trouble


def _amounts(payload: Mapping[str, Any]) -> tuple[str | None, ...]:
    reading = next((payload[name] for name in _READINGS if payload.get(name)), None)
    place = payload.get("station") or payload.get("start")
    return (
        _decimal(_within(_within(place, "distance"), "amount")),
        _decimal(_within(reading, "amount")),
        _optional(_within(reading, "unit")),
        _decimal(payload.get("grade_rod_ft")),
        _optional(_within(payload.get("grade"), "kind")),
        _decimal(_within(payload.get("grade"), "amount_ft")),
        _decimal(payload.get("elevation_ft")),
    )


def _within(data: Any, name: str) -> Any:
    return data.get(name) if isinstance(data, Mapping) else None


def _decimal(exact: Any) -> str | None:
    if exact is None:
        return None
    try:
        millionths = half_up(Fraction(exact), _MILLIONTH) / _MILLIONTH
    except (ValueError, TypeError, ZeroDivisionError):
        return _text(str(exact))
    whole, rest = divmod(abs(int(millionths)), 10**6)
    return f"{'-' if millionths < 0 else ''}{whole}.{rest:06}".rstrip("0").rstrip(".")


def _text(text: str) -> str:
    return f"'{text}" if text.startswith(_FORMULA) else text


def _optional(text: Any) -> str | None:
    if text is None:
        return None
    return _text(str(text)) or "'"


def _bare(cell: str) -> str:
    return cell.removeprefix("'")


def _no_entry(line: int) -> DamagedBook:
    return DamagedBook(f"Row {line} of the export is not an entry of a book; export the book again.")


def _refuse_float(text: str) -> NoReturn:
    raise ValueError(f"{text} is no exact number")
