"""What of a long book need not be proved again at every opening, because its bytes are those that were proved.

Opening to write walks the whole chain, which takes seconds for a hundred thousand entries. So when a long book is
closed, a note of it is kept in the person's cache: the SHA-256 of the file, the last entry and its hash, and the
program that proved it. The next opening reads the bytes once, and walks the chain only if they are others, or no note
is there. So an opening still finds every byte that was changed since the book was closed. While a book is open, only
its ends may change, as a table that grows does; if anything else did, no note is kept. Who can write into the cache
of a person can write into the book too: against that helps only a code that was written down (`code.py`).
"""

from __future__ import annotations

import hashlib
import json
import os
from collections.abc import Iterable, Sequence
from contextlib import suppress
from functools import cache
from importlib.resources import files
from pathlib import Path
from typing import Any

LONG = 5_000
"""Entries from which a note is worth its keeping: fewer are proved in a tenth of a second."""

CHUNK = 1 << 16
"""Bytes that are hashed at a time."""

GROWS = 32
"""Chunks at the end of a file that may change as it grows: the last pages, and those that lead to them."""

SHORTEST = 200
"""Bytes of a row at the least: two hashes, a time and a reply."""

AT_THE_START = CHUNK // SHORTEST
"""Rows that may stand in the first chunk, which changes with the header of the file."""

_MOST = 1 << 26
"""Bytes of a note at the most; a longer one is none of ours."""


class Notes:
    """The notes on one book, in a folder of the person's cache. A note that cannot be kept or read is no trouble."""

    def __init__(self, folder: Path, book: Path) -> None:
        self._folder = folder
        self._name = hashlib.sha256(os.fsencode(book)).hexdigest()[:32]

    def read(self, what: str) -> Any:
        """The JSON that was kept; None where there is none, or not as it was written, or by another program."""
        with suppress(OSError, ValueError, RecursionError):
            with self._place(what).open("rb") as stream:
                seal, _, content = stream.read(_MOST).partition(b"\n")
            if seal == _seal(content):
                return json.loads(content)
        return None

    def keep(self, what: str, value: Any) -> None:
        """Write JSON, whole or not at all, for this person only."""
        content = json.dumps(value, separators=(",", ":")).encode()
        beside = self._place(f"{what}.{os.getpid()}")
        try:
            self._folder.mkdir(mode=0o700, parents=True, exist_ok=True)
            descriptor = os.open(beside, os.O_WRONLY | os.O_CREAT | os.O_TRUNC, 0o600)
            with os.fdopen(descriptor, "wb") as stream:
                stream.write(_seal(content) + b"\n" + content)
            beside.replace(self._place(what))
        except OSError:
            with suppress(OSError):
                beside.unlink()

    def _place(self, what: str) -> Path:
        return self._folder / f"{self._name}.{what}"


def whole(chunks: Iterable[str]) -> str:
    """One hash of the hashes of all chunks."""
    return hashlib.sha256("".join(chunks).encode()).hexdigest()


def grown(before: Sequence[str], after: Sequence[str]) -> int | None:
    """Rows that may stand where the file changed at its end; None where it changed elsewhere, or too far."""
    kept = len(before) - GROWS
    if kept < 1 or len(after) < len(before) or before[1:kept] != after[1:kept]:
        return None
    changed = len(after) - kept
    return changed * CHUNK // SHORTEST if changed <= 2 * GROWS else None


def _seal(content: bytes) -> bytes:
    return hashlib.sha256(program().encode() + content).hexdigest().encode()


@cache
def program() -> str:
    """A hash of all that makes a job of a book: another version proves and folds anew."""
    found = hashlib.sha256()
    for package in ("assistant.book", "assistant.grade", "assistant.job", "grammar"):
        for part in sorted(files(package).iterdir(), key=lambda part: part.name):
            if part.name.endswith(".py"):
                found.update(part.name.encode() + b"\0" + part.read_bytes() + b"\0")
    return found.hexdigest()
