"""Meanings and amounts as JSON and back, losing nothing: a fraction is text such as "15/4"."""

from __future__ import annotations

import types
from collections.abc import Callable, Mapping
from dataclasses import MISSING, fields, is_dataclass
from enum import StrEnum
from fractions import Fraction
from functools import cache, lru_cache
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
    """Rebuild a value of `kind`, a dataclass or what may be in one, from `encode`'s JSON.

    Raises `ValueError` or `TypeError` for JSON of another type than `encode` makes.
    """
    rebuilt = _reader(kind)(data)  # type: ignore[arg-type]
    assert isinstance(rebuilt, kind)
    return rebuilt


def encode_meaning(meaning: meanings.Meaning) -> dict[str, Any]:
    """Turn a meaning into JSON that carries its `kind`."""
    return {"kind": kind_of(type(meaning)), **encode(meaning)}


def decode_meaning(data: Mapping[str, Any]) -> meanings.Meaning:
    """Rebuild a meaning from `encode_meaning`'s JSON. Raises `KeyError` for an unknown kind."""
    rest = {name: value for name, value in data.items() if name != "kind"}
    rebuilt: meanings.Meaning = _reader(_kinds()[data["kind"]])(rest)
    return rebuilt


def kind_of(meaning: type) -> str:
    """Name a kind of meaning as books and JSON do: `DesignLine` is "design line"."""
    name = meaning.__name__
    return "".join(f" {c.lower()}" if c.isupper() else c for c in name).strip()


@cache
def _kinds() -> dict[str, type]:
    return {kind_of(kind): kind for kind in get_args(meanings.Meaning)}


_Reader = Callable[[Any], Any]


@cache
def _reader(kind: Any) -> _Reader:
    """What makes a value of a type of JSON; it raises for JSON that is not exactly of that type."""
    if get_origin(kind) in (Union, types.UnionType):
        return _one_of([option for option in get_args(kind) if option is not types.NoneType])
    if get_origin(kind) is tuple:
        return _items(get_args(kind))
    if kind is Fraction:
        return _amount
    if issubclass(kind, StrEnum):
        return lambda data: kind(_of_type(str, data))
    if is_dataclass(kind):
        hints = get_type_hints(kind)
        return _parts(kind, {field.name: _reader(hints[field.name]) for field in fields(kind)})
    return lambda data: _of_type(kind, data)


def _one_of(options: list[Any]) -> _Reader:
    """What may be nothing, or of one type, or of that of several dataclasses whose fields are there."""
    if len(options) == 1:
        (only,) = map(_reader, options)
        return lambda data: None if data is None else only(data)
    known = [({f.name for f in fields(o) if f.default is MISSING}, _reader(o)) for o in options]

    def read(data: Any) -> Any:
        if data is None:
            return None
        there = set(_of_type(dict, data))
        return next((reader for needed, reader in known if needed <= there), _none_of_these)(data)

    return read


def _none_of_these(data: Any) -> Any:
    raise ValueError(f"{data!r} is none of what could stand there")


def _items(kinds: tuple[Any, ...]) -> _Reader:
    if kinds[-1] is Ellipsis:
        every = _reader(kinds[0])
        return lambda data: tuple(every(item) for item in _of_type(list, data))
    each = [_reader(kind) for kind in kinds]
    return lambda data: tuple(read(item) for read, item in zip(each, _of_type(list, data), strict=True))


def _parts(kind: Any, readers: Mapping[str, _Reader]) -> _Reader:
    def read(data: Any) -> Any:
        given = _of_type(dict, data)
        return kind(**{name: reader(given[name]) for name, reader in readers.items() if name in given})

    return read


def _of_type(kind: type[T], data: Any) -> T:
    if type(data) is not kind:
        raise TypeError(f"{data!r} is not of the type {kind.__name__}")
    return data


def _amount(data: Any) -> Fraction:
    return _fraction(_of_type(str, data))


_fraction = lru_cache(maxsize=4096)(Fraction)
"""The same few amounts stand in many entries."""
