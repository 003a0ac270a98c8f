"""What the job keeps of the book's rows."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from fractions import Fraction
from functools import cached_property
from typing import Any, Protocol, TypeVar, get_args

from assistant.book.errors import UNFIT, UnfitEntry
from assistant.book.exact_json import decode, decode_meaning
from assistant.grade import levels, units
from grammar.meanings import Meaning, PlanePoint
from grammar.quantities import Length, Marking, Place, Spot, Station


class Written(Protocol):
    """What the fold needs of a row of the book."""

    @property
    def sequence(self) -> int:
        """Its number in the book, from 1."""

    @property
    def kind(self) -> str:
        """What it is."""

    @property
    def heard(self) -> str | None:
        """The words that were heard."""

    @property
    def payload(self) -> Mapping[str, Any]:
        """Its content, with exact numbers as text."""

    @property
    def time(self) -> str:
        """When, in UTC, as ISO 8601 writes it."""


@dataclass(frozen=True)
class Levels:
    """Levels run from a benchmark, as far as a miss of theirs is shared out."""

    turning_points: tuple[tuple[int, Length], ...] = ()
    """The number of the set-up that each was read from, and its elevation as carried."""
    sights: Mapping[int, Fraction] = field(default_factory=dict)
    """Feet of backsight and foresight together, by the number of the set-up."""
    misclosure: Fraction | None = None
    """Feet carried less feet known, once they are closed."""
    set_ups: int = 0
    """Set-ups up to the close."""


@dataclass(frozen=True)
class Question:
    """A question that is open. Nothing of `proposals` is in the book yet.

    `kind` is "confirm" (one proposal, to be confirmed), "which" (several; one must be named) or "instead" (the
    proposal is in the book, and wrong; the right number must be said). `attempts` counts the answers that did not
    settle it. `replaces` are the entries that the proposals would take the place of, one each, where they correct.
    """

    kind: str
    proposals: tuple[Meaning, ...]
    attempts: int
    replaces: tuple[int | None, ...] = ()


T = TypeVar("T")


class _OfEntry(cached_property[T]):
    """What is read from an entry when it is asked for. Raises `UnfitEntry` where the entry does not hold it."""

    def __get__(self, record: Any, owner: type | None = None) -> T:  # type: ignore[override]
        try:
            return super().__get__(record, owner)  # type: ignore[no-any-return]
        except UNFIT as trouble:
            raise UnfitEntry(record.row.sequence) from trouble


def decode_question(payload: Mapping[str, Any]) -> Question:
    """The question that an entry opens."""
    proposals = tuple(decode_meaning(data) for data in payload["proposals"])
    return Question(
        decode(str, payload["asks"]),
        proposals,
        decode(int, payload["attempts"]),
        tuple(None if one is None else decode(int, one) for one in payload.get("replaces", ())),
    )


@dataclass(eq=False)
class ReadingRecord:
    """A reading in the book, and the one before it, which may be fetched only once it is asked for."""

    row: Written
    earlier: ReadingRecord | Callable[[], ReadingRecord | None] | None

    @property
    def before(self) -> ReadingRecord | None:
        """The reading that stood before this one."""
        if callable(self.earlier):
            self.earlier = self.earlier()
        return self.earlier

    @cached_property
    def payload(self) -> Mapping[str, Any]:
        """The content of its entry."""
        return self.row.payload

    @_OfEntry
    def reading(self) -> Length:
        """What was read."""
        return decode(Length, self.payload["reading"])

    @_OfEntry
    def station(self) -> Place | None:
        """Where."""
        return decode_place(self.payload["station"])

    @_OfEntry
    def below(self) -> Length | None:
        """How far below grade the digging was to end, if it was."""
        data = self.payload.get("below")
        return None if data is None else decode(Length, data)

    @_OfEntry
    def grade(self) -> levels.Grade | None:
        """Cut, fill or on grade, if there was a grade to compare with."""
        data = self.payload["grade"]
        if data is None:
            return None
        kind = data["kind"]
        if kind not in get_args(levels.Kind):
            raise ValueError(f"{kind} is not cut, fill or on grade")
        return levels.Grade(kind, decode(Fraction, data["amount_ft"]))

    @_OfEntry
    def grade_rod(self) -> Fraction | None:
        """Feet that the rod was to read, if there was a grade."""
        data = self.payload["grade_rod_ft"]
        return None if data is None else decode(Fraction, data)

    @_OfEntry
    def give_or_take(self) -> Mapping[str, Fraction]:
        """Feet that it may be off, by cause."""
        causes = self.payload.get("give_or_take") or {}
        return {cause: decode(Fraction, amount) for cause, amount in causes.items()}


@dataclass(frozen=True)
class ThreePoints:
    """A design plane through three points."""

    points: tuple[PlanePoint, ...]


def decode_place(data: Any) -> Place | None:
    """A place as an entry keeps it."""
    if data is None:
        return None
    return decode(Spot, data) if "name" in data else decode(Station, data)


def feet(length: Length) -> Fraction:
    """The exact amount of a length in feet."""
    if length.marking is Marking.METRIC:
        return length.amount / units.FOOT_IN_METRES
    return length.amount


def same(one: object, other: object) -> bool:
    """Whether two meanings, or parts of them, are the same amounts, however finely and in which unit they were said."""
    if type(one) is not type(other):
        return False
    if isinstance(one, Length) and isinstance(other, Length):
        return feet(one) == feet(other)
    names = getattr(one, "__dataclass_fields__", None)
    if names is None:
        return one == other
    return all(same(getattr(one, name), getattr(other, name)) for name in names)
