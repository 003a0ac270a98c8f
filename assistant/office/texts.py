"""An entry as the text that its hash covers: all that the office is sent of it, and all that is believed of it."""

from __future__ import annotations

import json
from typing import NoReturn

from assistant.book.entries import Row, chain_hash
from assistant.office.errors import Unreadable


def text_of(row: Row) -> str:
    """What `chain_hash` hashes of a row."""
    return json.dumps(row[:-1], separators=(",", ":"), ensure_ascii=False)


def row_of(text: str) -> Row:
    """The row that `text_of` wrote, with the hash of that text. Raises `Unreadable` at anything else."""
    try:
        fields = json.loads(text)
        row = Row._make([*fields, chain_hash(*fields)])
        payload = json.loads(row.payload_text, parse_float=_refuse, parse_constant=_refuse)
    except (TypeError, ValueError, RecursionError) as trouble:
        raise Unreadable("It holds what is no entry.") from trouble
    if not row.well_formed() or not isinstance(payload, dict) or text_of(row) != text:
        raise Unreadable("It holds what is no entry.")
    return row


def _refuse(number: str) -> NoReturn:
    raise ValueError(f"{number} is no exact number")
