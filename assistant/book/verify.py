"""Whether a book still holds what was written."""

from __future__ import annotations

from collections.abc import Iterable, Iterator

from assistant.book.entries import FIRST_PREVIOUS, Row


def findings(rows: Iterable[Row], after: Row | None = None) -> Iterator[str]:
    """Walk the chain, from the row `after` on, and name each entry that was changed, is missing or does not follow."""
    previous, expected = (FIRST_PREVIOUS, 1) if after is None else (after.hash, after.sequence + 1)
    for row in rows:
        if row.sequence > expected:
            last = row.sequence - 1
            yield f"entry {last} is missing" if last == expected else f"entries {expected} to {last} are missing"
        elif row.sequence < expected:
            yield f"entry {row.sequence} stands out of order"
        elif row.previous != previous:
            yield f"entry {row.sequence} does not follow the one before it"
        if row.right_hash() != row.hash:
            yield f"entry {row.sequence} was changed"
        previous, expected = row.hash, row.sequence + 1
