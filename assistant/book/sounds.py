"""The sound of what was written: FLAC files beside the book, each named by its SHA-256, which its entry holds.

A file is on the disk before its entry is. Two entries of one utterance share one file.
"""

from __future__ import annotations

import hashlib
import io
import os
import re
from collections.abc import Iterable, Iterator
from contextlib import suppress
from datetime import datetime, timedelta
from pathlib import Path

import numpy as np
import numpy.typing as npt

from assistant.book.entries import Row
from assistant.book.errors import BookError, told

Samples = npt.NDArray[np.int16]

_MOST_BYTES = 64_000_000
_MOST_SAMPLES = 30_000_000
"""Of one utterance: half an hour. Our own choice, far beyond what anybody says at once."""

_NAME = re.compile(r"[0-9a-f]{64}")


class NoSound(BookError):
    """The sound of an entry is not kept, or not as it was."""


class Sounds:
    """The folder of sounds beside a book; it is made with the first of them."""

    def __init__(self, book: Path) -> None:
        self.folder = book.with_name(f"{book.name}-sound")

    def keep(self, samples: Samples, rate: int) -> str:
        """Write one channel of 16-bit samples; the name to put into the entry. Raises `BookError`."""
        content = flac(samples, rate)
        name = hashlib.sha256(content).hexdigest()
        with told(str(self.folder)):
            self.folder.mkdir(mode=0o700, exist_ok=True)
            place = self._place(name)
            if not place.exists():
                beside = place.with_suffix(f".{os.getpid()}")
                with open(os.open(beside, os.O_WRONLY | os.O_CREAT | os.O_TRUNC, 0o600), "wb") as stream:  # noqa: PTH123
                    stream.write(content)
                    stream.flush()
                    os.fsync(stream.fileno())
                beside.replace(place)
        return name

    def read(self, row: Row) -> tuple[Samples, int]:
        """The samples and the rate of an entry's sound. Raises `NoSound`."""
        import soundfile

        for finding in self.findings([row]):
            raise NoSound(f"{finding[0].upper()}{finding[1:]}.")
        if row.audio is None:
            raise NoSound(f"Entry {row.sequence} was not spoken, or its sound was not kept.")
        try:
            samples, rate = soundfile.read(self._place(row.audio), dtype="int16", frames=_MOST_SAMPLES)
        except (RuntimeError, OSError) as trouble:
            raise NoSound(f"The sound of entry {row.sequence} is none that can be played.") from trouble
        return samples, rate

    def findings(self, rows: Iterable[Row]) -> Iterator[str]:
        """Each entry whose sound is missing or was changed."""
        for row in rows:
            if row.audio is None:
                continue
            if not _NAME.fullmatch(row.audio):
                yield f"the sound of entry {row.sequence} has no name of a sound"
                continue
            try:
                content = _content(self._place(row.audio))
            except OSError:
                yield f"the sound of entry {row.sequence} is missing"
                continue
            if hashlib.sha256(content).hexdigest() != row.audio:
                yield f"the sound of entry {row.sequence} was changed"

    def forget(self, before: datetime) -> int:
        """Remove the sounds written before a time; their count. Their entries stay, and still tell their hashes."""
        count = 0
        for path in self.folder.glob("*.flac") if self.folder.is_dir() else ():
            with suppress(OSError):
                if path.stat().st_mtime < before.timestamp():
                    path.unlink()
                    count += 1
        return count

    def _place(self, name: str) -> Path:
        return self.folder / f"{name}.flac"


def _content(path: Path) -> bytes:
    """The bytes of a file that can be a sound. Raises `OSError`."""
    if not path.is_file() or path.stat().st_size > _MOST_BYTES:
        raise FileNotFoundError(path)
    return path.read_bytes()


def forget_old(folder: Path, days: int, now: datetime) -> int:
    """Remove the sounds of all books of a folder that are older than so many days; their count."""
    before = now - timedelta(days=days)
    books = folder.glob("*-sound") if folder.is_dir() else ()
    return sum(Sounds(path.with_name(path.name.removesuffix("-sound"))).forget(before) for path in books)


def flac(samples: Samples, rate: int) -> bytes:
    """16-bit FLAC (RFC 9639), lossless."""
    import soundfile

    stream = io.BytesIO()
    soundfile.write(stream, samples, rate, format="FLAC", subtype="PCM_16")
    return stream.getvalue()
