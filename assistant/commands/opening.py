"""Opening a book by its path, or one that is not kept; and files that are written whole."""

from __future__ import annotations

import os
from collections.abc import Callable, Iterable, Iterator
from contextlib import contextmanager, suppress
from importlib import import_module
from itertools import takewhile
from pathlib import Path
from types import ModuleType

from assistant.book.entries import Row
from assistant.book.errors import UNFIT, BookError, NewerBook
from assistant.book.store import Book
from assistant.environment import Environment, Trouble, own_folder
from assistant.settings import read
from assistant.talk.session import Keep


class NoOffice(Trouble):
    """What reaches the office is not installed."""


def open_book(path: Path | None, world: Environment) -> Book:
    """The book at `path`, made if it is not there; without a path, a book in memory. Raises `BookError`."""
    return Book.scratch(world.clock) if path is None else Book.open(path, world.clock, cache=world.cache)


def keeper(path: Path | None, wanted: bool | None, world: Environment) -> Keep | None:
    """What keeps the sounds of a book, unless the person said not to; told when it begins. Raises `BadSettings`."""
    from assistant.book.sounds import Sounds, forget_old
    from assistant.hearing.port import SAMPLE_RATE, Samples

    settings = read(world.settings)
    if settings.audio_days:
        forget_old(world.books, settings.audio_days, world.clock())
    if path is None or not (settings.keep_audio if wanted is None else wanted):
        return None
    sounds = Sounds(path.resolve())
    if not sounds.folder.exists():
        world.warn(
            f"What is spoken is kept as sound in {sounds.folder}, to prove the entries. "
            f"--no-audio, or keep_audio = false in {world.settings}, turns that off."
        )

    def keep(samples: Samples) -> str | None:
        try:
            return sounds.keep(samples, SAMPLE_RATE)
        except BookError as trouble:  # an entry without its sound is better than none
            world.warn(f"rodside: the sound was not kept: {trouble}")
            return None

    return keep


@contextmanager
def shown(path: Path, rows: Callable[[], Iterable[Row]]) -> Iterator[None]:
    """Where figures in the entries are read as they stand, one that is none is told by its entry as a `NewerBook`.

    What fails although every entry can be worked out again is a mistake of ours, and passes.
    """
    try:
        yield
    except UNFIT:
        from assistant.report.arithmetic import Sums, check_figures

        sums = Sums(lambda last: takewhile(lambda row: row.sequence <= last, rows()))
        for row in rows():
            check_figures(row)
            for finding in sums.findings(row):
                raise NewerBook(f"{path}: {finding}; get a newer version, or keep the book.") from None
        raise


def read_book(path: Path, world: Environment) -> Book:
    """The book at `path`, to read only, with a word where its file calls for one. Raises `BookError`."""
    book = Book.open(path, world.clock, read_only=True)
    caution = book.caution()
    if caution is not None:
        world.warn(f"rodside: {caution}")
    return book


def office() -> ModuleType:
    """The store of the office, where its library is installed. Raises `NoOffice`."""
    try:
        return import_module("assistant.office.store")
    except ImportError as missing:
        raise NoOffice(f"The office needs {missing.name}: pip install 'rodside[office]'.") from missing


def replace(output: Path, content: bytes) -> None:
    """Write a file whole or not at all. Raises `BookError`."""
    beside = output.with_name(f".{output.name}.{os.getpid()}")
    try:
        with beside.open("xb") as stream:
            stream.write(content)
        beside.replace(output)
    except OSError as trouble:
        if not isinstance(trouble, FileExistsError):
            with suppress(OSError):
                beside.unlink(missing_ok=True)
        raise BookError(f"{output} cannot be written: {trouble.strerror}.") from trouble


def book_of_today(world: Environment) -> Path:
    """The book of the day, in the folder of books."""
    own_folder(world.books)
    return world.books / f"{world.clock().astimezone():%Y-%m-%d}.rodside"
