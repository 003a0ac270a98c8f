"""Level notes: every sight of a run of levels in a row, with the check of the sums.

Height of the instrument = elevation + backsight; elevation = instrument - sight; the sum of the backsights less the
sum of the foresights is the last elevation less the first. Source: usual level notes, as in the published sets L01 to
L16 of the checks; a miss is shared equally among the set-ups, check L02 and L04, or by the length of the sights.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass, field
from fractions import Fraction
from functools import cached_property

from assistant.book.entries import Row
from assistant.grade import levelling
from assistant.report.amounts import Amount, feet_of, figures, in_unit, places_of
from assistant.report.lines import place
from grammar.quantities import Marking

COARSEST = {Marking.TENTHS: 2, Marking.INCHES: 3, Marking.METRIC: 3}
"""Decimal places at the least: 0.01 ft, 0.001 ft for inches, 1 mm. Usual in level notes; common practice, no source."""


@dataclass
class Sight:
    """A row of the notes: a point, and what was read on it. Amounts are feet."""

    entry: int
    point: str
    elevation: Fraction
    set_up: int
    backsight: Fraction | None = None
    instrument: Fraction | None = None
    intermediate: Fraction | None = None
    foresight: Fraction | None = None
    backsight_entry: int | None = None


@dataclass
class LevelNotes:
    """The sights from one benchmark on. `misclosure` is what was carried less what is known, once it is closed."""

    marking: Marking
    places: int
    sights: list[Sight] = field(default_factory=list)
    misclosure: Fraction | None = None
    set_ups: int = 0
    """Set-ups up to the close, or up to now."""
    lengths: dict[int, Fraction] = field(default_factory=dict)
    """Feet of sights by set-up, where they were said."""
    by_distance: bool = False
    turned: dict[int, int] = field(default_factory=dict)
    """The set-up that each turning point was read from, by its number."""
    turns: int = 0
    """Foresights, the closes among them."""
    number: int = 1
    several: bool = False
    """Whether the job has further notes."""
    rows: slice = field(default_factory=lambda: slice(None))
    """Those of the sights that this page shows; the sums stand below the last."""

    @property
    def shown(self) -> list[Sight]:
        """The sights of this page."""
        return self.sights[self.rows]

    @property
    def ends(self) -> bool:
        """Whether the last sight is on this page."""
        return self.rows.stop is None or self.rows.stop >= len(self.sights)

    @cached_property
    def checked(self) -> list[Sight]:
        """The sights up to the last foresight; what comes after is not checked by the sums."""
        ends = [number for number, sight in enumerate(self.sights) if sight.foresight is not None]
        return self.sights[: ends[-1] + 1] if ends else []

    @property
    def backsights(self) -> Fraction:
        """Their sum, up to the last foresight; one that stands on it is not part of it."""
        sums = [s.backsight for s in self.checked if s.backsight is not None]
        if self.checked and self.checked[-1].backsight is not None:
            sums.pop()
        return sum(sums, Fraction(0))

    @property
    def foresights(self) -> Fraction:
        """Their sum."""
        return sum((s.foresight for s in self.checked if s.foresight is not None), Fraction(0))

    @property
    def rise(self) -> Fraction:
        """The last elevation that the sums check, less the first."""
        return self.checked[-1].elevation - self.sights[0].elevation if self.checked else Fraction(0)

    @property
    def checks(self) -> bool:
        """Whether both differences are the same, as they must be."""
        return self.backsights - self.foresights == self.rise

    def adjusted(self, sight: Sight) -> Fraction | None:
        """The elevation with its share of the misclosure taken off, once the levels are closed."""
        if self.misclosure is None or sight.set_up > self.set_ups:
            return None
        return sight.elevation + (self._corrections[sight.set_up - 1] if sight.set_up else 0)

    @cached_property
    def _corrections(self) -> Sequence[Fraction]:
        """By set-up, once all of the notes are there."""
        assert self.misclosure is not None
        if self.is_by_distance:
            lengths = [self.lengths[number] for number in range(1, self.set_ups + 1)]
            return levelling.corrections_by_distance(self.misclosure, lengths)
        return levelling.equal_corrections(self.misclosure, self.set_ups)

    @property
    def is_by_distance(self) -> bool:
        """Whether a miss is shared out by distance: where that was said, and the sights of every set-up too."""
        return self.by_distance and all(number in self.lengths for number in range(1, self.set_ups + 1))

    def amount(self, feet: Fraction | None, of: str, more: int = 0) -> Amount | None:
        """Feet as a column of these notes shows them, with `more` decimal places."""
        if feet is None:
            return None
        exact = in_unit(feet, self.marking)
        return Amount(exact, self.marking.unit, figures(exact, self.places + more), of)


KINDS = ("benchmark", "backsight", "reading", "benchmark check", "foresight", "sights", "close")
"""The entries that the notes are made of."""


def level_notes(rows: Iterable[Row], *, by_distance: bool = False) -> Iterator[LevelNotes]:
    """The notes of all levels among rows that stand; `by_distance` is what the last adjustment says."""
    last: LevelNotes | None = None
    kept = (_finished(notes, by_distance) for notes in _every(rows) if len(notes.sights) > 1)
    for number, notes in enumerate(kept):
        if last is not None:
            last.several = notes.several = True
            yield last
        notes.number, last = number + 1, notes
    if last is not None:
        yield last


def _finished(notes: LevelNotes, by_distance: bool) -> LevelNotes:
    notes.by_distance = by_distance
    notes.places = max([notes.places, *_said_places(notes)])
    return notes


def _every(rows: Iterable[Row]) -> Iterator[LevelNotes]:
    notes: LevelNotes | None = None
    known: Sight | None = None
    for row in rows:
        if row.kind not in KINDS:
            continue
        payload = row.payload
        if row.kind == "benchmark":
            if notes is not None:
                yield notes
            elevation = payload["elevation"]
            notes = LevelNotes(Marking(elevation["marking"]), COARSEST[Marking(elevation["marking"])])
            number = payload.get("number")
            known = Sight(row.sequence, "BM" if number is None else f"BM {number}", feet_of(elevation), 0)
            notes.sights.append(known)
        elif notes is None or known is None:
            continue
        elif row.kind == "backsight":
            reading, instrument = feet_of(payload["reading"]), Fraction(payload["height_of_instrument_ft"])
            if instrument - reading != known.elevation:
                yield notes
                notes = LevelNotes(notes.marking, notes.places)
                known = Sight(row.sequence, _numbered(payload.get("number")), instrument - reading, 0)
                notes.sights.append(known)
            elif known.backsight is not None:
                known = Sight(row.sequence, known.point, known.elevation, notes.set_ups)
                notes.sights.append(known)
            if notes.misclosure is None:
                notes.set_ups += 1
            known.backsight, known.instrument, known.backsight_entry = reading, instrument, row.sequence
        elif row.kind == "reading" and payload.get("elevation_ft") is not None:
            sight = Sight(row.sequence, place(payload), Fraction(payload["elevation_ft"]), 0)
            sight.set_up, sight.intermediate = notes.set_ups, feet_of(payload["reading"])
            notes.sights.append(sight)
        elif row.kind == "benchmark check":
            checked = Sight(row.sequence, f"{_numbered(payload['number'])}, check", feet_of(payload["elevation"]), 0)
            checked.set_up, checked.intermediate = notes.set_ups, feet_of(payload["reading"])
            notes.sights.append(checked)
        elif row.kind == "foresight":
            notes.turns += 1
            notes.turned[notes.turns] = notes.set_ups
            known = Sight(row.sequence, f"TP {notes.turns}", feet_of(payload["elevation"]), notes.set_ups)
            known.foresight = feet_of(payload["reading"])
            notes.sights.append(known)
        elif row.kind == "sights":
            turned = notes.turned.get(payload.get("turning_point") or 0, notes.set_ups)
            notes.lengths[turned] = Fraction(payload["length_ft"])
        elif row.kind == "close":
            last = Sight(row.sequence, "BM, close", feet_of(payload["carried"]), notes.set_ups)
            notes.turns += 1
            last.foresight = feet_of(payload["reading"])
            notes.sights.append(last)
            notes.misclosure = Fraction(payload["misclosure_ft"])
    if notes is not None:
        yield notes


def _numbered(number: int | None) -> str:
    return "BM" if number is None else f"BM {number}"


def _said_places(notes: LevelNotes) -> list[int]:
    sights = (
        (sight.backsight, sight.intermediate, sight.foresight)
        for sight in notes.sights
        if notes.marking is not Marking.INCHES
    )
    amounts = [in_unit(feet, notes.marking) for row in sights for feet in row if feet is not None]
    return [places for places in map(places_of, amounts) if places <= 4]
