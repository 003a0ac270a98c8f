"""What can be wrong with the office."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager

import psycopg

from assistant.book.errors import BookError
from assistant.office.names import shown


class OfficeError(BookError):
    """Something about the database of the office."""


class Unreachable(OfficeError):
    """It does not answer; what was sent is there, and the rest can be sent again."""


class AnotherHistory(OfficeError):
    """The office holds other entries under the name of this book."""


class Unreadable(OfficeError):
    """The office answered with what no book holds."""


_NOT_LET = (psycopg.errors.InsufficientPrivilege, psycopg.errors.InvalidSchemaName, psycopg.errors.UndefinedTable)


@contextmanager
def told() -> Iterator[None]:
    """Turn what the database says into an `OfficeError`."""
    try:
        yield
    except psycopg.OperationalError as trouble:
        raise Unreachable(
            f"The office does not answer: {first_line(trouble)}. Nothing is lost; try again."
        ) from trouble
    except psycopg.errors.UndefinedColumn as old:
        raise OfficeError("The office is of another version of Rodside; its owner prepares it again.") from old
    except _NOT_LET as no:
        raise OfficeError(f"The office does not let you: {first_line(no)}. Ask its owner.") from no
    except psycopg.errors.IntegrityError as trouble:
        raise AnotherHistory(f"The office refuses: {first_line(trouble)}.") from trouble
    except psycopg.Error as trouble:
        raise OfficeError(f"The office: {first_line(trouble)}.") from trouble


def first_line(trouble: Exception) -> str:
    """What it says, in one line without its last stop."""
    return shown((str(trouble) or type(trouble).__name__).splitlines()[0].rstrip("."))
