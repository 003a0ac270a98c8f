"""What a correction can stand instead of, in what was said: "no, three foot seven" is another reading."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, fields, replace
from typing import Any, get_type_hints

from assistant.job.records import same
from assistant.wording.asked import names
from assistant.wording.phrase import plain
from assistant.wording.said import Said
from grammar import sound_alikes
from grammar.meanings import (
    Answer,
    Correct,
    Meaning,
    Swap,
)
from grammar.quantities import Length, Place, Slope, Spot, Station
from grammar.spoken import say_number


@dataclass(frozen=True)
class Repair:
    """What is meant instead of entry `replaces`, or of what is not in the book; part `name` was `old` and is `new`."""

    replaces: int | None
    meaning: Meaning
    name: str
    old: Any
    new: Any


def repairs(target: Meaning, said: Correct | Swap, replaces: int | None = None) -> list[Repair]:
    """Every way in which what was said can stand instead of a part of `target`; a part that stays is no way."""
    pairs = [(None, said)] if isinstance(said, Correct) else [(w, _only(right)) for w, right in said.pairs]
    found: list[Repair] = []
    for wrong, right in pairs:
        if right.length is not None and right.station is not None:
            found += _both(target, right, replaces)
            continue
        for name, old in parts(target):
            if name == "start" and right.bare is not None:
                continue  # where a line starts is said as a place
            new = _fit(name, old, right)
            if new is None or same(old, new) or (wrong is not None and not names(wrong, old)):
                continue
            if not _can_be(target, name, new):
                continue
            repair = Repair(replaces, _with(target, {name: new}), name, old, new)
            found += [repair] if repair not in found else []
    return found


def unchanged(target: Meaning, said: Correct | Swap) -> bool:
    """Whether `target` already says what is called right."""
    right = [said] if isinstance(said, Correct) else [_only(right) for _, right in said.pairs]
    return any(same(old, _fit(name, old, one)) for one in right for name, old in parts(target))


def likely(found: list[Repair]) -> list[Repair]:
    """Those that are meant. A bare number that could be a reading and a place is a reading if it is like the old one.

    Like: a figure of it in common, and none of the place ("three seven" is like 3 ft 9 in, and unlike 0+40).
    """
    lengths = [repair for repair in found if isinstance(repair.new, Length)]
    places = [repair for repair in found if isinstance(repair.new, Station)]
    if len(found) != 2 or not lengths or not places:
        return found
    (reading,), (place,) = lengths, places
    old = place.old.distance if isinstance(place.old, Station) else None  # a corner, say, is no number
    odd = place.new.distance.amount.denominator != 1 and (old is None or old.amount.denominator == 1)
    if odd or (alike(reading.old, reading.new) and not (old is not None and alike(old, place.new.distance))):
        return lengths
    return found


def said_of(value: object) -> Said:
    """A part of what was said, in a few words."""
    match value:
        case Length() | Slope() | Station() | Spot():
            return plain(value)
        case _:
            return Said(str(value), str(value))


def _only(right: Answer) -> Correct:
    if right.length is not None and right.station is not None:
        return Correct(bare=right)
    return Correct(right.length, right.station, right.slope)


def parts(target: Meaning) -> Iterator[tuple[str, Any]]:
    """The parts that can be wrong. A place that was not said counts where there can be one."""
    for field in fields(target):
        value = getattr(target, field.name)
        if isinstance(value, Length | Station | Spot | Slope) or (value is None and field.name == "station"):
            yield field.name, value


def _fit(name: str, old: Any, right: Correct) -> Length | Place | Slope | None:
    """What is right as such a part; nothing where it is of another kind."""
    measured, at = (right.length, right.station) if right.bare is None else (right.bare.length, right.bare.station)
    match old:
        case Length() if isinstance(at, Station) and (name == "elevation" or (measured is None and name == "distance")):
            return at.distance  # they are said as bare numbers
        case Length():
            return measured
        case Slope():
            return right.slope
        case Station() if isinstance(at, Station) and at.offset is None:
            return Station(at.distance, old.offset)
        case _:
            return at


def _can_be(target: Meaning, name: str, value: object) -> bool:
    """Whether a part can be of this kind: a point of a plane stands along the line, at no corner."""
    return isinstance(value, get_type_hints(type(target))[name])


def _both(target: Meaning, right: Correct, replaces: int | None) -> list[Repair]:
    """A length and a place together."""
    told = dict(parts(target))
    measured = [name for name, old in told.items() if isinstance(old, Length)]
    where = [name for name, old in told.items() if old is None or isinstance(old, Station | Spot)]
    if len(measured) != 1 or len(where) != 1 or not _can_be(target, where[0], right.station):
        return []
    whole = _with(target, {measured[0]: right.length, where[0]: right.station})
    return [Repair(replaces, whole, measured[0], told[measured[0]], right.length)]


def alike(old: Length, new: Length) -> bool:
    """Whether two numbers have a figure in common, or sound alike as fifteen and fifty do."""
    whole, other = int(old.amount), int(new.amount)
    if old.amount.denominator == new.amount.denominator == 1 and whole >= 10 and other >= 10:
        words, others = say_number(old.amount).split(), say_number(new.amount).split()
        twins = len(words) == len(others) and any(
            sound_alikes.TWIN.get(a) == b for a, b in zip(words, others, strict=True)
        )
        return twins or (len(str(whole)) == len(str(other)) and _shared(str(whole), str(other)))
    return whole == other or old.amount - whole == new.amount - other


def _shared(one: str, other: str) -> bool:
    return any(a == b for a, b in zip(one, other, strict=True))


def _with(target: Any, new: dict[str, Any]) -> Meaning:
    changed: Meaning = replace(target, **new)
    return changed
