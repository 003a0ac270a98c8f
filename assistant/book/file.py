"""The file of a book: whether it is one, the making of it, and the hold of the one process that writes."""

from __future__ import annotations

import hashlib
import os
from collections import defaultdict
from contextlib import suppress
from pathlib import Path
from threading import Lock
from typing import ClassVar

from assistant.book.errors import BookError, BookInUse, NewerBook, NotABook, told
from assistant.book.proven import CHUNK

try:
    import fcntl
except ImportError:  # not a POSIX system: SQLite's own locks must do
    fcntl = None  # type: ignore[assignment]

APPLICATION_ID = 0x526F6473
"""Marks an SQLite file as a book."""

FORMAT = 1
"""The version of the table; a book of a higher one is only read."""

_HEADER = 100


class Hold:
    """A descriptor of the file beside SQLite's own, with the lock of a writer on it.

    A POSIX process that closes any descriptor of a file loses every record lock it has on that file, SQLite's among
    them, and another process may then throw away a log that is still written. So a descriptor that is let go of is
    closed only with the last one of its file. The writer's lock is of the other sort (`flock`): it belongs to the
    descriptor and dies with the process.
    """

    _guard: ClassVar = Lock()
    _descriptors: ClassVar[dict[tuple[int, int], list[int]]] = defaultdict(list)
    _in_use: ClassVar[dict[tuple[int, int], int]] = defaultdict(int)

    def __init__(self, path: Path, descriptor: int, *, made: bool = False) -> None:
        status = os.fstat(descriptor)
        self._path = path
        self.made = made
        self._descriptor = descriptor
        self._file = (status.st_dev, status.st_ino)
        self.other_names = status.st_nlink > 1
        with Hold._guard:
            Hold._descriptors[self._file].append(descriptor)
            Hold._in_use[self._file] += 1

    def forget(self) -> None:
        """Remove the file, where this hold made it and its path still leads to it."""
        with suppress(OSError, BookError):
            self.check_still_there()
            if self.made:
                self._path.unlink()

    def lock(self) -> None:
        """Become the one that writes. Raises `BookInUse`."""
        if fcntl is None:
            return
        try:
            fcntl.flock(self._descriptor, fcntl.LOCK_EX | fcntl.LOCK_NB)
        except BlockingIOError as taken:
            raise BookInUse(
                f"{self._path} is being written by another Rodside; stop that one, or name another book."
            ) from taken

    def header(self) -> bytes:
        """The first bytes of the file."""
        os.lseek(self._descriptor, 0, os.SEEK_SET)
        return os.read(self._descriptor, _HEADER)

    def chunks(self) -> list[str]:
        """SHA-256, in hex, of each `CHUNK` bytes of the file."""
        found, at = [], 0
        while part := os.pread(self._descriptor, CHUNK, at):
            found.append(hashlib.sha256(part).hexdigest())
            at += len(part)
        return found

    def check_still_there(self) -> None:
        """Raise `BookError` where the path does not lead to this file any more: what is written would be lost."""
        try:
            status = self._path.stat()
        except OSError:
            status = None
        if status is None or (status.st_dev, status.st_ino) != self._file:
            raise BookError(f"{self._path} was moved or removed while in use; put it back, then say it again.")

    def release(self) -> None:
        """Let go of the file; SQLite must have let go before."""
        if fcntl is not None:
            with suppress(OSError):
                fcntl.flock(self._descriptor, fcntl.LOCK_UN)
        with Hold._guard:
            Hold._in_use[self._file] -= 1
            if Hold._in_use[self._file] == 0:
                del Hold._in_use[self._file]
                for descriptor in Hold._descriptors.pop(self._file):
                    os.close(descriptor)


def take(path: Path, *, read_only: bool, new: bytes) -> Hold:
    """Hold the book at `path`; to write, lock it, and where nothing is there make it of the bytes `new`.

    The file is looked at before SQLite sees it, so that one that is no book is never touched. Raises `BookError`.
    """
    with told(str(path)):
        if not _is_there(path, read_only=read_only):
            with suppress(FileExistsError):
                return _made(path, new)
        hold = Hold(path, os.open(path, os.O_RDONLY if read_only else os.O_RDWR))
        try:
            if not read_only:
                hold.lock()
            _check_header(path, hold.header(), read_only=read_only)
            if hold.other_names and not read_only:
                raise BookError(
                    f"{path} has another name too (a hard link), and what is written by one name may be missed by the "
                    "other; remove the other name, or copy the book and go on in the copy."
                )
        except BaseException:
            hold.release()
            raise
        return hold


def version(header: bytes) -> int:
    """The format's version, of a book's header."""
    return int.from_bytes(header[60:64], "big")


def _is_there(path: Path, *, read_only: bool) -> bool:
    if path.is_dir():
        raise NotABook(f"{path} is a folder, not a book; name a file in it.")
    if not path.parent.is_dir():
        raise NotABook(f"There is no folder {path.parent}; make it first, or name another.")
    if path.exists():
        if not path.is_file():
            raise NotABook(f"{path} is not a file; name another.")
        return True
    if read_only:
        raise NotABook(f"There is no book {path}; name another.")
    return False


def _check_header(path: Path, header: bytes, *, read_only: bool) -> None:
    if not header:
        raise NotABook(f"{path} is empty, not a book; remove it, or name another file.")
    if header[:16] != b"SQLite format 3\0" or int.from_bytes(header[68:72], "big") != APPLICATION_ID:
        raise NotABook(f"{path} is not a book of Rodside; name another file.")
    if version(header) > FORMAT and not read_only:
        raise NewerBook(f"{path} was written by a newer version; it can be shown and exported, but not added to.")


def _made(path: Path, content: bytes) -> Hold:
    """The file, locked and whole on the disk, or not there at all."""
    hold = Hold(path, os.open(path, os.O_RDWR | os.O_CREAT | os.O_EXCL, 0o600), made=True)
    try:
        hold.lock()
        left = memoryview(content)
        while left:
            left = left[os.write(hold._descriptor, left) :]
        os.fsync(hold._descriptor)
        _sync_folder(path.parent)
    except BaseException:
        hold.forget()
        hold.release()
        raise
    return hold


def _sync_folder(folder: Path) -> None:
    """Put the name of a new file on the disk; some systems and disks know no such thing."""
    with suppress(OSError):
        descriptor = os.open(folder, os.O_RDONLY)
        try:
            os.fsync(descriptor)
        finally:
            os.close(descriptor)
