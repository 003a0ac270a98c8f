"""What stands in a book: entries to be written, and rows as they were written."""

from __future__ import annotations

import hashlib
import json
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

FIRST_PREVIOUS = "0" * 64
"""What stands for the hash of the row before the first."""


@dataclass(frozen=True)
class Entry:
    """Something to be written. `payload` is JSON whose exact numbers are text; a float in it raises `TypeError`."""

    kind: str
    payload: Mapping[str, Any]

    def __post_init__(self) -> None:
        _refuse_floats(self.payload)


@dataclass(frozen=True)
class Row:
    """An entry as written. `time` is UTC in ISO 8601; `hash` covers every other field, `previous` the row before."""

    sequence: int
    time: str
    kind: str
    payload: Mapping[str, Any]
    heard: str | None
    engine: str | None
    audio: str | None
    reply: str
    previous: str
    hash: str

    def right_hash(self) -> str:
        """The hash that the other fields call for."""
        return chain_hash(
            self.sequence,
            self.time,
            self.kind,
            canonical(self.payload),
            self.heard,
            self.engine,
            self.audio,
            self.reply,
            self.previous,
        )


def canonical(payload: Mapping[str, Any]) -> str:
    """The one way to write a payload: JSON with sorted keys, no spaces, no escapes for letters."""
    return json.dumps(payload, sort_keys=True, separators=(",", ":"), ensure_ascii=False)


def chain_hash(*fields: str | int | None) -> str:
    """SHA-256, in hex, of the fields of a row but its hash, in their order, as a JSON list."""
    text = json.dumps(fields, separators=(",", ":"), ensure_ascii=False)
    return hashlib.sha256(text.encode("utf-8", "surrogatepass")).hexdigest()


def _refuse_floats(value: object) -> None:
    if isinstance(value, float):
        raise TypeError(f"{value!r} is a float: a book holds exact numbers, as text")
    if isinstance(value, Mapping):
        for item in value.values():
            _refuse_floats(item)
    elif isinstance(value, list | tuple):
        for item in value:
            _refuse_floats(item)
