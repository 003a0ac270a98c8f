"""What stands in a book: entries to be written, and rows as they were written.

The hash of a row is the SHA-256, in hex, of the UTF-8 text of a compact JSON list of its other fields in their order,
the payload among them as its own canonical text. Each row holds the hash of the one before, so a row that was changed,
taken out or put in between breaks the chain. Rows cut from the end break nothing: for that, compare the last hash with
one that was written down elsewhere.
"""

from __future__ import annotations

import hashlib
import json
import re
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any, NamedTuple, NoReturn

from assistant.book.errors import UnfitEntry

FIRST_PREVIOUS = "0" * 64
"""What stands for the hash of the row before the first."""


MOST_TEXT = 100_000
"""Characters of a payload. The longest of a long day has a few thousand."""

MOST_DEPTH = 32
"""Lists and objects within each other in a payload."""

MOST_DIGITS = 300
"""Digits on either side of the stroke of an amount: sums of what was said have a few, of what was imported some ten."""

MOST_BITS = 996
"""Of a whole number: as many digits."""

_READS_AS_AMOUNT = re.compile(r"(?=.*\d)[-+]?[\d_]*(\.[\d_]*)?(\s*/[\s\d_]*|[eE][-+]?[\d_]*)?", re.DOTALL)
_AMOUNT = re.compile(rf"-?\d{{1,{MOST_DIGITS}}}(/0*(?!0)\d{{1,{MOST_DIGITS}}}|\.\d{{1,{MOST_DIGITS}}})?", re.ASCII)


@dataclass(frozen=True)
class Entry:
    """Something to be written. `payload` is JSON whose exact numbers are text.

    A float, a name that is no text, or anything else that is not JSON raises `TypeError`.
    """

    kind: str
    payload: Mapping[str, Any]

    def __post_init__(self) -> None:
        _refuse_what_is_not_exact(self.payload)


class Row(NamedTuple):
    """An entry as written. `time` is UTC in ISO 8601, `payload_text` the payload as canonical JSON.

    `engine` is what heard the words: "typed", or the name of a recogniser. `hash` covers every other field, `previous`
    is the hash of the row before.
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
        """The payload, read on demand: most rows of a replay are never looked into. Raises `UnfitEntry`."""
        try:
            return read_payload(self.payload_text)
        except (ValueError, RecursionError) as trouble:
            raise UnfitEntry(self.sequence) from trouble

    def well_formed(self) -> bool:
        """Whether every field is of its own type, as in any row that was not damaged."""
        return (
            type(self.sequence) is int
            and all(type(text) is str for text in (*self[1:4], *self[7:]))
            and all(text is None or type(text) is str for text in self[4:7])
        )

    def well_formed_field(self, name: str) -> bool:
        """Whether the field `name` is of its own type."""
        value = getattr(self, name)
        if name == "sequence":
            return type(value) is int
        return type(value) is str or (value is None and name in ("heard", "engine", "audio"))

    def right_hash(self) -> str:
        """The hash that the other fields call for."""
        return chain_hash(*self[:-1])


def canonical(payload: Mapping[str, Any]) -> str:
    """The one way to write a payload: JSON with sorted keys, no spaces, no escapes for letters."""
    text = json.dumps(payload, sort_keys=True, separators=(",", ":"), ensure_ascii=False, allow_nan=False, default=dict)
    return writable(text)


def read_payload(text: str) -> dict[str, Any]:
    """The payload that was written so. Raises `ValueError` for what is none, and beyond what any entry holds."""
    if len(text) > MOST_TEXT:
        raise ValueError(f"a payload of {len(text)} characters")
    payload = _PAYLOADS.decode(text)
    if not isinstance(payload, dict):
        raise ValueError("a payload that is no object")
    _refuse_what_is_too_much(payload, MOST_DEPTH - 1)
    return payload


def writable(text: str) -> str:
    """The text with stray half characters as escapes, which within JSON read back as they were."""
    return text.encode("utf-8", "backslashreplace").decode("utf-8")


def chain_hash(*fields: str | int | None) -> str:
    """SHA-256, in hex, of the fields of a row but its hash, in their order, as a JSON list."""
    text = json.dumps(fields, separators=(",", ":"), ensure_ascii=False)
    return hashlib.sha256(text.encode("utf-8", "surrogatepass")).hexdigest()


def _refuse_float(text: str) -> NoReturn:
    raise ValueError(f"{text} is no exact number")


_PAYLOADS = json.JSONDecoder(parse_float=_refuse_float, parse_constant=_refuse_float)


def _refuse_what_is_too_much(value: dict[str, Any] | list[Any], depth: int) -> None:
    """Raise `ValueError` for amounts that no sum could take: 1e30000000, 1/0, thousands of digits."""
    if depth < 0:
        raise ValueError("lists within lists without end")
    for item in value.values() if isinstance(value, dict) else value:
        kind = type(item)
        if kind is str:
            if not _AMOUNT.fullmatch(item) and _READS_AS_AMOUNT.fullmatch(item.strip()):
                raise ValueError(f"{item[:20]} is no amount of a book")
        elif kind is int:
            if item.bit_length() > MOST_BITS:
                raise ValueError("a whole number of too many digits")
        elif kind is dict or kind is list:
            _refuse_what_is_too_much(item, depth - 1)


def _refuse_what_is_not_exact(value: object) -> None:
    if value is None or isinstance(value, str | int):
        return
    if isinstance(value, Mapping):
        for name, item in value.items():
            if not isinstance(name, str):
                raise TypeError(f"{name!r} names a value of a payload, and is not text")
            _refuse_what_is_not_exact(item)
    elif isinstance(value, list | tuple):
        for item in value:
            _refuse_what_is_not_exact(item)
    else:
        raise TypeError(f"{value!r} is a {type(value).__name__}: a book holds JSON with exact numbers as text")
