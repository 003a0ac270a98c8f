"""What can be wrong with a book, each in one sentence that says what to do."""

from __future__ import annotations

import errno
import sqlite3
from collections.abc import Iterator
from contextlib import contextmanager

from assistant.environment import ExitStatus, Trouble, visible


class BookError(Trouble):
    """Something about a book."""

    status = ExitStatus.BOOK


class NotABook(BookError):
    """The path holds something else, or nothing."""


class DamagedBook(BookError):
    """The file was a book and does not hold what was written any more."""


UNFIT = (LookupError, TypeError, ValueError, AttributeError, ArithmeticError, AssertionError, RecursionError)
"""What arises where an entry holds something else than its kind calls for."""


class UnfitEntry(DamagedBook):
    """An entry that does not hold what its kind calls for, or more than any entry may."""

    def __init__(self, sequence: int) -> None:
        super().__init__(f"Entry {sequence} is damaged; keep the book, and go on in a new one.")


class BadFile(BookError):
    """A file that was to be taken in is not what it should be; nothing of it was taken."""

    def __init__(self, line: int, column: str, expected: str, found: str) -> None:
        where = f"line {line}, {column}" if column else f"line {line}"
        super().__init__(f"{where}: expected {expected}, found {_short(found)}. Nothing was taken in.")
        self.line = line


class NewerBook(BookError):
    """The book was written by a newer version, and cannot be added to."""


class UnknownKind(NewerBook):
    """It has an entry of a kind that this version does not know."""

    def __init__(self, kind: str) -> None:
        super().__init__(
            f"The book has an entry that this version does not know ({visible(kind)[:80]}); get a newer one."
        )


class ReadOnlyBook(BookError):
    """The file, its folder or its disk cannot be written."""


class BookInUse(BookError):
    """Another process writes in this book."""


class DiskFull(BookError):
    """There is no room for the entry; nothing of it was written."""


def _short(found: str) -> str:
    return "nothing" if not found.strip() else repr(found if len(found) <= 40 else f"{found[:40]}...")


@contextmanager
def told(name: str) -> Iterator[None]:
    """Turn what SQLite and the disk say about the book `name` into a `BookError`. An author's mistake passes."""
    try:
        yield
    except (sqlite3.ProgrammingError, sqlite3.InterfaceError, sqlite3.IntegrityError):
        raise
    except sqlite3.Error as trouble:
        raise _from_sqlite(trouble, name) from trouble
    except UnicodeDecodeError as trouble:
        raise damaged(name, "a text that is none") from trouble
    except OSError as trouble:
        raise _from_disk(trouble, name) from trouble


def kind_of(trouble: sqlite3.Error) -> int:
    """The kind of trouble: the low byte of SQLite's code; the high bytes only tell where it arose."""
    code: int = getattr(trouble, "sqlite_errorcode", sqlite3.SQLITE_ERROR)
    return code & 0xFF


def damaged(name: str, what: str) -> DamagedBook:
    """The error for a book that does not hold what was written."""
    return DamagedBook(f"{name} is damaged ({what}); keep it, and go on in a new book.")


def _from_sqlite(trouble: sqlite3.Error, name: str) -> BookError:
    code = kind_of(trouble)
    if code == sqlite3.SQLITE_FULL or getattr(trouble, "sqlite_errorcode", None) == sqlite3.SQLITE_IOERR_SHMSIZE:
        return _no_room()
    if code in (sqlite3.SQLITE_READONLY, sqlite3.SQLITE_CANTOPEN, sqlite3.SQLITE_PERM):
        return ReadOnlyBook(f"{name} cannot be written; choose another place.")
    if code in (sqlite3.SQLITE_BUSY, sqlite3.SQLITE_LOCKED):
        return BookInUse(f"{name} is being written by another program; try again.")
    if code == sqlite3.SQLITE_IOERR:
        return BookError(f"The disk that holds {name} does not answer; check it, then say it again.")
    return damaged(name, str(trouble))


def _from_disk(trouble: OSError, name: str) -> BookError:
    if trouble.errno in (errno.ENOSPC, errno.EDQUOT, errno.EFBIG):
        return _no_room()
    if trouble.errno in (errno.EROFS, errno.EACCES, errno.EPERM):
        return ReadOnlyBook(f"{name} cannot be used: {trouble.strerror}; choose another place.")
    return BookError(f"{name} cannot be used: {trouble.strerror}; choose another place.")


def _no_room() -> DiskFull:
    return DiskFull("The disk is full: make room, then say it again.")
