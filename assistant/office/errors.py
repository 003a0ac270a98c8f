"""What can be wrong with the office."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager

import psycopg

from assistant.book.errors import BookError


class OfficeError(BookError):
    """Something about the database of the office."""


class Unreachable(OfficeError):
    """It does not answer; what was sent is there, and the rest can be sent again."""


class AnotherHistory(OfficeError):
    """The office holds other entries under the name of this book."""


_NOT_LET = (psycopg.errors.InsufficientPrivilege, psycopg.errors.InvalidSchemaName, psycopg.errors.UndefinedTable)


@contextmanager
def told() -> Iterator[None]:
    """Turn what the database says into an `OfficeError`."""
    try:
        yield
    except psycopg.OperationalError as trouble:
        raise Unreachable(f"The office does not answer: {_first(trouble)}. Nothing is lost; try again.") from trouble
    except (
        psycopg.errors.InsufficientPrivilege,
        psycopg.errors.InvalidSchemaName,
        psycopg.errors.UndefinedTable,
    ) as no:
        raise OfficeError(f"The office does not let you: {_first(no)}. Ask its owner.") from no
    except psycopg.errors.IntegrityError as trouble:
        raise AnotherHistory(f"The office refuses: {_first(trouble)}.") from trouble
    except psycopg.Error as trouble:
        raise OfficeError(f"The office: {_first(trouble)}.") from trouble


def _first(trouble: psycopg.Error) -> str:
    return (str(trouble) or type(trouble).__name__).splitlines()[0].rstrip(".")
