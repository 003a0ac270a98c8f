"""The state of a job: the fold of its book's entries. There is no other state to lose."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator
from copy import copy
from dataclasses import dataclass, field
from itertools import islice
from typing import Any

from assistant.book.errors import UNFIT, UnfitEntry, UnknownKind
from assistant.book.exact_json import decode
from assistant.job import folding
from assistant.job.facts import Facts
from assistant.job.records import Written

Done = tuple[Written, dict[str, Any]]
"""An entry that stands, and what was there before it of all that it changed."""


@dataclass
class Job(Facts):
    """What the book's entries add up to. Changed only by `apply`."""

    _undo: list[Done] = field(default_factory=list)
    _earlier: Callable[[], list[Done]] | None = None
    """What is below `_undo`, where it was not folded yet: most talks never take back what is that old."""

    @classmethod
    def folded(cls, rows: Iterable[Written]) -> Job:
        """Fold rows, in order, from nothing."""
        job = cls()
        for row in rows:
            job.apply(row)
        return job

    def apply(self, row: Written) -> None:
        """Add one entry. Raises `UnknownKind`; `UnfitEntry` where it does not hold what it should."""
        if row.kind not in folding.KINDS:
            raise UnknownKind(row.kind)
        try:
            self._apply(row)
        except UNFIT as trouble:
            raise UnfitEntry(row.sequence) from trouble

    def _apply(self, row: Written) -> None:
        kind = row.kind
        if kind in folding.ABOUT_QUESTIONS:
            self.asked_by = row if kind == "question" else None
            return
        if kind != "place":
            self.asked_by = None
        if kind == "scratch":
            self._take_back(decode(int, row.payload["sequence"]))
            return
        self._change(row)

    def last_entry(self) -> Written | None:
        """The entry that "scratch that" would take back."""
        return next((row for row in self._done() if row.kind not in folding.NEVER_SCRATCHED), None)

    def standing(self, sequence: int) -> Written:
        """An entry that stands. Raises `StopIteration` where it does not."""
        found: Written = next(row for row in self._done() if row.sequence == sequence)
        return found

    def without(self, sequence: int | None) -> Job:
        """The job as it would be without one entry, if one is named. Raises `KeyError` where that does not stand."""
        if sequence is None:
            return self
        if all(row.sequence != sequence for row, _ in self._undo):
            self._recall()
        other = copy(self)
        other._undo = list(self._undo)
        other._take_back(sequence)
        return other

    def let_go(self) -> None:
        """Forget what only taking back and looking back need: for a walk over nothing but entries that stand."""
        self._undo = []
        if self.last_reading is not None:
            self.last_reading.earlier = None

    def resumed(self, earlier: Callable[[], list[Done]]) -> None:
        """Take what was done up to now from `earlier`, once it is asked for: the `done` of a job like this."""
        self._undo, self._earlier = [], earlier

    def forget(self, kept: int, whole: Callable[[], Job]) -> None:
        """Hold the last `kept` entries that stand; what is older is taken from `whole`, a job like this one as it is.

        It is asked for once something older than those is to be taken back.
        """
        if len(self._undo) <= kept:
            return
        del self._undo[:-kept]
        self._earlier = lambda: whole().done[:-kept]
        record, steps = self.last_reading, 0
        while record is not None and not callable(record.earlier):
            if steps == kept:
                record.earlier = lambda: next(islice(whole().readings(), kept + 1, None), None)
                return
            record, steps = record.earlier, steps + 1

    @property
    def done(self) -> list[Done]:
        """Every entry that stands, in order, and what was there before it."""
        self._recall()
        return self._undo

    @property
    def reaches_back(self) -> bool:
        """Whether all that was ever done is at hand."""
        return self._earlier is None

    def _done(self) -> Iterator[Written]:
        """The entries that stand, latest first."""
        yield from (row for row, _ in reversed(self._undo))
        if self._earlier is not None:
            known = len(self._undo)
            self._recall()
            yield from (row for row, _ in reversed(self._undo[: len(self._undo) - known]))

    def _recall(self) -> None:
        if self._earlier is not None:
            self._undo = [*self._earlier(), *self._undo]
            self._earlier = None

    def _change(self, row: Written) -> None:
        changes = folding.CHANGES[row.kind](self, row)
        state = self.__dict__
        self._undo.append((row, {name: state[name] for name in changes}))
        state.update(changes)

    def _take_back(self, sequence: int) -> None:
        """Undo an entry; those after it are done again, but for places that were only asked about since."""
        later: list[Written] = []
        while self._undo or self.done:
            row, before = self._undo.pop()
            self.__dict__.update(before)
            if row.sequence == sequence:
                if any(one.kind not in folding.NEVER_SCRATCHED for one in later):
                    for one in reversed(later):
                        self._change(one)
                return
            later.append(row)
        raise KeyError(f"entry {sequence} cannot be taken back: it does not stand")
