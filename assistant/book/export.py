"""A book as text files, losing nothing.

JSON lines: one object a line, with every field of the row by its name; `payload` is an object.

CSV (RFC 4180, UTF-8, CRLF, a header of `CSV_COLUMNS`): what a person wants in a spreadsheet stands in columns of its
own, as decimals rounded half up to a millionth, because a spreadsheet takes a fraction such as 9/2 for a date; the
exact amounts stand in `payload`, which holds the whole entry as JSON. A spreadsheet also takes a text that begins with
= + - @, wide or not, for a formula, so such a text is written after an apostrophe in any column. A text that begins
with an apostrophe, a tab or the end of a line gets one more too, and so does an empty text where another cell may hold
none: taking one apostrophe away always gives the text back.
"""

from __future__ import annotations

import csv
import json
from collections.abc import Iterable, Iterator, Mapping
from fractions import Fraction
from typing import Any, NoReturn, TextIO

from assistant.book.entries import Row, canonical, read_payload, writable
from assistant.book.errors import BadFile
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

_FORMULA = tuple("=+-@＝＋－＠")
_LEADING = ("'", "\t", "\r", "\n")
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
    """Read back what `to_jsonl` wrote. Raises `BadFile`, naming line and field, at what is no entry."""
    for number, line in enumerate(stream, 1):
        try:
            fields = json.loads(line, parse_float=_refuse_float, parse_constant=_refuse_float)
        except json.JSONDecodeError as trouble:
            raise BadFile(number, f"column {trouble.colno}", "JSON", line[trouble.pos :].rstrip("\r\n")) from trouble
        except (ValueError, RecursionError) as trouble:
            raise BadFile(number, "", "JSON with exact numbers as text", line.rstrip("\r\n")) from trouble
        yield _row(number, fields)


def _row(number: int, fields: Any) -> Row:
    if not isinstance(fields, dict):
        raise BadFile(number, "", "the fields of an entry", json.dumps(fields))
    for name in sorted(_FIELDS ^ set(fields)):
        raise BadFile(number, f"field {name}", "it there" if name in _FIELDS else "no such field", "")
    if not isinstance(fields["payload"], dict):
        raise BadFile(number, "field payload", "an object", json.dumps(fields["payload"]))
    row = Row(payload_text=canonical(fields["payload"]), **{name: fields[name] for name in _FIELDS - {"payload"}})
    try:
        read_payload(row.payload_text)
    except ValueError as trouble:
        raise BadFile(number, "field payload", "what an entry can hold", row.payload_text) from trouble
    for name, value in row._asdict().items():
        if not row.well_formed_field(name):
            raise BadFile(number, f"field {name}", "another type", json.dumps(value))
    return row


def to_csv(rows: Iterable[Row], stream: TextIO) -> None:
    """Write RFC 4180 CSV with `CSV_COLUMNS`; open the stream with `newline=""`."""
    table = csv.writer(stream, lineterminator="\r\n")
    table.writerow(CSV_COLUMNS)
    for row in rows:
        said = (_optional(row.heard), _optional(row.engine), _optional(row.audio), _text(row.reply))
        start = (row.sequence, _text(row.time), _text(row.kind))
        end = (_text(row.payload_text), _text(row.previous), _text(row.hash))
        table.writerow((*start, *_amounts(row.payload), *said, *end))


def from_csv(stream: Iterable[str]) -> Iterator[Row]:
    """Read back what `to_csv` wrote; open the stream with `newline=""`. Raises `BadFile`, naming line and column."""
    table = csv.reader(stream, strict=True)
    try:
        header = tuple(next(table, ()))
        if header != CSV_COLUMNS:
            raise BadFile(1, "", "the columns of a book", ",".join(header))
        for cells in table:
            yield _from_cells(table.line_num, cells)
    except csv.Error as trouble:
        raise BadFile(table.line_num, "", "CSV as of RFC 4180", str(trouble)) from trouble


def _from_cells(line: int, cells: list[str]) -> Row:
    if len(cells) != len(CSV_COLUMNS):
        raise BadFile(line, "", f"{len(CSV_COLUMNS)} columns", str(len(cells)))
    cell = dict(zip(CSV_COLUMNS, cells, strict=True))
    if not (cell["sequence"].isascii() and cell["sequence"].isdecimal()):
        raise BadFile(line, "column sequence", "a whole number", cell["sequence"])
    text = _bare(cell["payload"])
    try:
        payload = read_payload(text)
    except (ValueError, RecursionError) as trouble:
        raise BadFile(line, "column payload", "an object of JSON with exact numbers as text", text) from trouble
    row = Row(
        int(cell["sequence"]),
        _bare(cell["time"]),
        _bare(cell["kind"]),
        text,
        _bare(cell["heard"]) if cell["heard"] else None,
        _bare(cell["engine"]) if cell["engine"] else None,
        _bare(cell["audio"]) if cell["audio"] else None,
        _bare(cell["reply"]),
        _bare(cell["previous"]),
        _bare(cell["hash"]),
    )
    expected = _amounts(payload)
    for name, there, right in zip(CSV_COLUMNS[3:10], cells[3:10], expected, strict=True):
        if there != (right or ""):
            raise BadFile(line, f"column {name}", f"{right!r}, as the payload says" if right else "nothing", there)
    return row


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
    return f"'{text}" if text.startswith(_LEADING) or text.lstrip().startswith(_FORMULA) else text


def _optional(text: Any) -> str | None:
    if text is None:
        return None
    return _text(str(text)) or "'"


def _bare(cell: str) -> str:
    return cell.removeprefix("'")


def _refuse_float(text: str) -> NoReturn:
    raise ValueError(f"{text} is no exact number")
