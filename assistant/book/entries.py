"""What stands in a book: entries to be written, and rows as they were written."""

from __future__ import annotations

import hashlib
import json
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any, NamedTuple

FIRST_PREVIOUS = "0" * 64
"""What stands for the hash of the row before the first."""


@dataclass(frozen=True)
class Entry:
    """Something to be written. `payload` is JSON whose exact numbers are text; a float in it raises `TypeError`."""

    kind: str
    payload: Mapping[str, Any]

    def __post_init__(self) -> None:
        _refuse_floats(self.payload)


class Row(NamedTuple):
    """An entry as written. `time` is UTC in ISO 8601, `payload_text` the payload as canonical JSON.

    `hash` covers every other field, `previous` is the hash of the row before.
    """

    sequence: int
    time: str
    kind: str
    payload_text: str
    heard: str | None
    engine: str | None
    audio: str | None
    reply: str
    previous: str
    hash: str

    @property
    def payload(self) -> Mapping[str, Any]:
        """The payload, read on demand: most rows of a replay are never looked into."""
        payload: Mapping[str, Any] = json.loads(self.payload_text)
        return payload

    def right_hash(self) -> str:
        """The hash that the other fields call for."""
        return chain_hash(*self[:-1])

    def as_json(self) -> dict[str, Any]:
        """Every field by its name, with the payload as an object."""
        fields = self._asdict()
        del fields["payload_text"]
        return {**fields, "payload": self.payload}


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
