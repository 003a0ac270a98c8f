"""Meanings and amounts as JSON and back, losing nothing: a fraction is text such as "15/4"."""

from __future__ import annotations

import types
from collections.abc import Mapping
from dataclasses import MISSING, fields, is_dataclass
from enum import StrEnum
from fractions import Fraction
from functools import cache
from typing import Any, TypeVar, Union, get_args, get_origin, get_type_hints

from grammar import meanings, quantities

T = TypeVar("T")


def encode(value: object) -> Any:
    """Turn a dataclass of the grammar, or what is in one, into JSON.

    A `Length` also names its unit; what may be left out and is nothing is left out; a member of a union of
    dataclasses is told by its fields, a `Meaning` by
    `kind` (see `encode_meaning`). Raises `TypeError` for anything else.
    """
    if value is None or isinstance(value, (bool, int)):
        return value
    if isinstance(value, Fraction):
        return str(value)
    if isinstance(value, StrEnum):
        return value.value
    if isinstance(value, str):
        return value
    if isinstance(value, tuple):
        return [encode(item) for item in value]
    if isinstance(value, quantities.Length):
        return {
            "amount": str(value.amount),
            "unit": value.marking.unit,
            "marking": value.marking.value,
            "step": str(value.step),
        }
    if is_dataclass(value) and not isinstance(value, type):
        told = {field: getattr(value, field.name) for field in fields(value)}
        return {
            field.name: encode(part) for field, part in told.items() if part is not None or field.default is MISSING
        }
    raise TypeError(f"cannot write {value!r} into a book")


def decode(kind: type[T], data: Any) -> T:
    """Rebuild a value of the dataclass `kind` from `encode`'s JSON."""
    rebuilt = _decode(kind, data)
    assert isinstance(rebuilt, kind)
    return rebuilt


def encode_meaning(meaning: meanings.Meaning) -> dict[str, Any]:
    """Turn a meaning into JSON that carries its `kind`."""
    return {"kind": kind_of(type(meaning)), **encode(meaning)}


def decode_meaning(data: Mapping[str, Any]) -> meanings.Meaning:
    """Rebuild a meaning from `encode_meaning`'s JSON. Raises `KeyError` for an unknown kind."""
    rest = {name: value for name, value in data.items() if name != "kind"}
    rebuilt: meanings.Meaning = _decode(_kinds()[data["kind"]], rest)
    return rebuilt


def kind_of(meaning: type) -> str:
    """Name a kind of meaning as books and JSON do: `DesignLine` is "design line"."""
    name = meaning.__name__
    return "".join(f" {c.lower()}" if c.isupper() else c for c in name).strip()


@cache
def _kinds() -> dict[str, type]:
    return {kind_of(kind): kind for kind in get_args(meanings.Meaning)}


@cache
def _hints(kind: type) -> dict[str, Any]:
    return get_type_hints(kind)


def _decode(kind: Any, data: Any) -> Any:
    if get_origin(kind) in (Union, types.UnionType):
        options = [option for option in get_args(kind) if option is not type(None)]
        if data is None:
            return None
        if len(options) > 1:
            options = [o for o in options if {f.name for f in fields(o) if f.default is MISSING} <= set(data)]
        return _decode(options[0], data)
    if kind is Fraction:
        return Fraction(data)
    if isinstance(kind, type) and issubclass(kind, StrEnum):
        return kind(data)
    if is_dataclass(kind):
        hints = _hints(kind)  # type: ignore[arg-type]
        known = {field.name for field in fields(kind)}
        return kind(**{k: _decode(hints[k], v) for k, v in data.items() if k in known})  # type: ignore[operator]
    return data
