"""Whether a book still holds what was written."""

from __future__ import annotations

from collections.abc import Iterable, Iterator

from assistant.book.entries import FIRST_PREVIOUS, Row


class Chain:
    """The chain of hashes as it is walked, from the row `after` on."""

    def __init__(self, after: Row | None = None) -> None:
        self._previous, self._expected = (FIRST_PREVIOUS, 1) if after is None else (after.hash, after.sequence + 1)

    def findings(self, row: Row) -> Iterator[str]:
        """Whether the next row was changed, or does not follow."""
        last = row.sequence - 1
        if last > self._expected:
            yield f"entries {self._expected} to {last} are missing"
        elif last == self._expected:
            yield f"entry {last} is missing"
        elif row.sequence < self._expected:
            yield f"entry {row.sequence} stands out of order"
        elif row.previous != self._previous:
            yield f"entry {row.sequence} does not follow the one before it"
        if row.right_hash() != row.hash:
            yield f"entry {row.sequence} was changed"
        self._previous, self._expected = row.hash, row.sequence + 1


def findings(rows: Iterable[Row], after: Row | None = None) -> Iterator[str]:
    """Walk the chain, from the row `after` on, and name each entry that was changed, is missing or does not follow."""
    chain = Chain(after)
    for row in rows:
        yield from chain.findings(row)
