"""What can be wrong with a book, each in one sentence that says what to do."""

from __future__ import annotations

from assistant.environment import ExitStatus, Trouble


class BookError(Trouble):
    """Something about a book."""

    status = ExitStatus.BOOK


class NotABook(BookError):
    """The path holds something else."""


class DamagedBook(BookError):
    """The file was a book and cannot be read any more."""


class NewerBook(BookError):
    """The book was written by a newer version, and cannot be added to."""


class ReadOnlyBook(BookError):
    """The file, its folder or its disk cannot be written."""


class BookInUse(BookError):
    """Another process writes in this book."""


class DiskFull(BookError):
    """There is no room for the entry; nothing of it was written."""
