"""The book on disk: one SQLite table that only grows.

A write-ahead log and full synchronisation: when `append` returns, the rows are on the disk after a single flush (a
rollback journal needs three or four), and a process that dies in the middle leaves a log from which the next opening
restores all that was answered. `settle` moves the log into the book itself; it is called after each answer, so that
the one file that a person copies is whole.
"""

from __future__ import annotations

import sqlite3
from collections.abc import Callable, Iterable, Iterator, Sequence
from contextlib import contextmanager, suppress
from datetime import UTC, datetime
from pathlib import Path
from time import monotonic
from types import TracebackType

from assistant.book import proven
from assistant.book.entries import FIRST_PREVIOUS, Entry, Row, canonical, chain_hash, read_payload, writable
from assistant.book.errors import BookError, NewerBook, NotABook, damaged, kind_of, told
from assistant.book.file import FORMAT, Hold, take, version
from assistant.book.table import COLUMNS, connected, has_log, in_memory, insert, is_as_made, is_plain, new_file
from assistant.book.verify import findings
from assistant.environment import now

Clock = Callable[[], datetime]

PROOF = "proof"
"""The note of what was proved when the book was closed."""

PATIENCE = 60.0
"""Seconds in which the file must give a row, or an answer about itself: a sound one takes no thousandth of that."""

_STEPS = 1_000_000
"""Steps of SQLite between two looks at the clock."""


def _resolved(path: Path) -> Path:
    try:
        return path.resolve()
    except RuntimeError as loop:  # how Python tells one before 3.13
        raise NotABook(f"{path} is a link that leads to itself; name another.") from loop


class Book:
    """A book that is open. One process at a time writes in it; others may read."""

    def __init__(self, connection: sqlite3.Connection, name: str, clock: Clock, hold: Hold | None, read_only: bool):
        self.notes: proven.Notes | None = None
        """Where what is known of this book is kept until it is opened again."""
        self._proved: list[str] | None = None
        """The chunks of the file in which everything was proved, when it was opened."""
        self._connection = connection
        self._name = name
        self._clock = clock
        self._hold = hold
        self._read_only = read_only
        self._since = monotonic()
        connection.set_progress_handler(self._lasts_too_long, _STEPS)

    @classmethod
    def scratch(cls, clock: Clock = now) -> Book:
        """A book in memory, gone when closed."""
        return cls(in_memory(), "scratch", clock, None, False)

    @classmethod
    def open(cls, path: Path, clock: Clock = now, *, read_only: bool = False, cache: Path | None = None) -> Book:
        """Open the book at `path`; to write, make it if nothing is there, and prove that it holds what was written.

        What was proved when a long book was closed is not proved again, if a note of it is in the folder `cache`: see
        `proven`. To read asks for less: `rows` gives what can still be read of a book that is damaged. Raises
        `BookError`.
        """
        with told(str(path)):
            path = _resolved(path)  # SQLite follows links too, and its log lies beside the file itself
        hold = take(path, read_only=read_only, new=new_file())
        book = None
        try:
            with told(str(path)):
                noted = cache is not None and not read_only and not has_log(path)
                chunks = hold.chunks() if noted else None
                book = cls(connected(path, read_only=read_only), str(path), clock, hold, read_only)
                book.notes = None if cache is None else proven.Notes(cache, path)
                book._prepare(version(hold.header()), chunks)
                book._proved = chunks
        except BaseException:
            book.close() if book is not None else hold.release()
            raise
        return book

    def append(
        self,
        entries: Sequence[Entry],
        *,
        heard: str | None,
        engine: str | None,
        audio: str | None,
        reply: str,
    ) -> tuple[Row, ...]:
        """Write entries, all or none; they are on the disk when this returns. Raises `BookError`."""
        said = (heard if heard is None else writable(heard), engine, audio, writable(reply))
        with self._all_or_nothing():
            return tuple(self._insert(self._next(entry, *said)) for entry in entries)

    def append_told(self, told: Sequence[tuple[Entry, str]], *, heard: str, engine: str) -> tuple[Row, ...]:
        """Write entries, each with its own reply, all or none. Raises `BookError`."""
        with self._all_or_nothing():
            return tuple(
                self._insert(self._next(entry, writable(heard), engine, None, writable(reply))) for entry, reply in told
            )

    def restore(self, rows: Iterable[Row]) -> int:
        """Write rows as they were written elsewhere into a book without any; their count. Raises `BookError`."""
        if self.last(1):
            raise BookError(f"{self._name} has entries already; name a new book.")
        return self.follow(rows)

    def follow(self, rows: Iterable[Row]) -> int:
        """Write rows that were written elsewhere and follow on these; their count. Raises `BookError`.

        All or none: not where one was changed, or is missing.
        """
        every = list(rows)
        for finding in findings([*self.rows(), *every]):
            raise damaged("what follows", finding)
        with self._all_or_nothing():
            for row in every:
                self._insert(row)
        return len(every)

    def rows(self, after: int = 0, until: int | None = None) -> Iterator[Row]:
        """Every row beyond number `after`, up to `until`, in order. Raises `BookError` at what cannot be read.

        Reading a whole book that was opened only to read ends with a check that no row went missing from the file.
        """
        limit = "" if until is None else "AND sequence <= ?"
        yield from self._read(f"sequence > ? {limit} ORDER BY sequence", (after,) if until is None else (after, until))
        if self._read_only and after == 0 and until is None:
            with self._answering():
                self._check_structure()

    def rows_of(self, sequences: Sequence[int]) -> list[Row]:
        """The rows of these numbers, in order; those that are there. Raises `BookError`."""
        marks = ", ".join("?" * len(sequences))
        return list(self._read(f"sequence IN ({marks}) ORDER BY sequence", sequences))

    def rows_of_kinds(self, kinds: Sequence[str], until: int) -> Iterator[Row]:
        """The rows of these kinds up to number `until`, in order. Raises `BookError`."""
        marks = ", ".join("?" * len(kinds))
        return self._read(f"sequence <= ? AND kind IN ({marks}) ORDER BY sequence", (until, *kinds))

    def rows_from(self, origin: str, after: int, until: int) -> Iterator[Row]:
        """The rows of the utterance `origin` beyond number `after`, up to `until`, in order. Raises `BookError`."""
        of_it = "substr(engine, instr(engine, ' ') + 1) = ?"
        return self._read(f"sequence > ? AND sequence <= ? AND {of_it} ORDER BY sequence", (after, until, origin))

    def has_sound(self) -> bool:
        """Whether any entry tells of its sound. Raises `BookError`."""
        with self._answering():
            query = "SELECT EXISTS(SELECT 1 FROM entries WHERE audio IS NOT NULL)"
            return bool(self._connection.execute(query).fetchone()[0])

    def _read(self, which: str, values: Sequence[int | str]) -> Iterator[Row]:
        last = 0
        with self._answering():
            for row in map(Row._make, self._connection.execute(f"SELECT {COLUMNS} FROM entries WHERE {which}", values)):
                if not row.well_formed():
                    raise damaged(self._name, f"entry {row.sequence}")
                if row.sequence <= last:  # a page that stands in its tree many times would never come to an end
                    raise damaged(self._name, f"entry {row.sequence} stands out of order")
                last = row.sequence
                yield row
                self._since = monotonic()

    def last(self, count: int) -> tuple[Row, ...]:
        """The last `count` rows, or as many as there are, in order. Raises `BookError`."""
        with self._answering():
            (end,) = self._connection.execute("SELECT coalesce(max(sequence), 0) FROM entries").fetchone()
        return tuple(self.rows(after=end - count)) if 0 < count < end else tuple(self.rows()) if count > 0 else ()

    def caution(self) -> str | None:
        """What a reader must be told of the file, if anything: that entries may lie where they are not looked for."""
        if self._hold is None or not self._hold.other_names:
            return None
        return (
            f"{self._name} has another name too (a hard link): if Rodside was killed while it wrote by that one, the "
            "last entries lie beside it and are not seen here."
        )

    def discard(self) -> None:
        """Let go of the file, and remove it if this opening made it."""
        self._connection.close()
        if self._hold is not None:
            self._hold.forget()
        self.close()

    def head(self) -> tuple[int, str]:
        """The number and the hash of the last row; what stands for them where there is none."""
        with told(self._name):
            query = "SELECT sequence, hash FROM entries ORDER BY sequence DESC LIMIT 1"
            last = self._connection.execute(query).fetchone()
        return (last[0], last[1]) if last else (0, FIRST_PREVIOUS)

    def settle(self) -> None:
        """Move what is in the log into the book itself. It is safe on the disk before, too."""
        with suppress(sqlite3.Error):
            self._connection.execute("PRAGMA wal_checkpoint(TRUNCATE)")

    def close(self) -> None:
        """Let go of the file."""
        with suppress(sqlite3.Error, OSError, BookError):
            self._note_proof()
        self._connection.close()
        if self._hold is not None:
            self._hold.release()
            self._hold = None

    def __enter__(self) -> Book:
        return self

    def __exit__(
        self,
        kind: type[BaseException] | None,
        error: BaseException | None,
        trace: TracebackType | None,
    ) -> None:
        self.close()

    def _prepare(self, format_: int, chunks: list[str] | None) -> None:
        self._connection.execute("PRAGMA synchronous = FULL")
        if format_ <= FORMAT and not is_as_made(self._connection):
            raise damaged(self._name, "its own rules were changed")
        if self._read_only:
            self._connection.execute("PRAGMA query_only = ON")
            self._check_columns(format_)
            return
        self._connection.execute("PRAGMA journal_mode = WAL")
        if chunks and self.notes is not None and self.notes.read(PROOF) == [proven.whole(chunks), *self.head()]:
            return
        self._check_structure()
        for finding in findings(self.rows()):
            raise damaged(self._name, finding)

    @contextmanager
    def _answering(self) -> Iterator[None]:
        self._since = monotonic()
        with told(self._name):
            yield

    def _lasts_too_long(self) -> bool:
        return monotonic() - self._since > PATIENCE

    def _note_proof(self) -> None:
        """Note that all of a long book is proved, if nothing but its ends can have changed since it was opened."""
        if self._hold is None or self.notes is None or self._proved is None:
            return
        self.settle()
        head = self.head()
        if head[0] < proven.LONG or has_log(Path(self._name)):
            return
        chunks = self._hold.chunks()
        if chunks != self._proved and not self._is_sound_at_its_ends(head[0], proven.grown(self._proved, chunks)):
            return
        note = [proven.whole(chunks), *head]
        if self.notes.read(PROOF) != note:
            self.notes.keep(PROOF, note)

    def _is_sound_at_its_ends(self, end: int, changed: int | None) -> bool:
        if changed is None:
            return False
        # Another connection, because this one may still hold the pages as they were.
        with Book(connected(Path(self._name), read_only=True), self._name, self._clock, None, True) as again:
            before, *rows = again.rows(after=max(0, end - changed - 1))
            beginning = again.rows(until=proven.AT_THE_START)
            return not any(findings(beginning)) and not any(findings(rows, before))

    def _check_columns(self, format_: int) -> None:
        if not is_plain(self._connection):
            raise damaged(self._name, "it has more than tables of what was written")
        try:
            self._connection.execute(f"SELECT {COLUMNS} FROM entries LIMIT 1").fetchone()
        except sqlite3.OperationalError as trouble:
            if format_ > FORMAT and kind_of(trouble) == sqlite3.SQLITE_ERROR:
                raise NewerBook(
                    f"{self._name} was written by a newer version and cannot be read by this one; get the newer one."
                ) from trouble
            raise

    def _check_structure(self) -> None:
        self._since = monotonic()
        (answer,) = self._connection.execute("PRAGMA quick_check(1)").fetchone()
        if answer != "ok":
            raise damaged(self._name, " ".join(answer.split()))
        ((pages,), (size,)) = (self._connection.execute(f"PRAGMA page_{what}").fetchone() for what in ("count", "size"))
        path = Path(self._name)
        if self._hold is not None and not has_log(path) and path.stat().st_size < pages * size:
            raise damaged(self._name, "its end is cut off")

    @contextmanager
    def _all_or_nothing(self) -> Iterator[None]:
        if self._hold is not None:
            self._hold.check_still_there()
        try:
            with self._answering():
                self._connection.execute("BEGIN IMMEDIATE")
                yield
                self._connection.execute("COMMIT")
        except BaseException:
            with suppress(sqlite3.Error):
                self._connection.execute("ROLLBACK")
            # A flush that failed may leave the entries in the log, where the next opening would find them.
            self.settle()
            raise

    def _next(self, entry: Entry, heard: str | None, engine: str | None, audio: str | None, reply: str) -> Row:
        last, previous = self.head()
        time = self._clock().astimezone(UTC).strftime("%Y-%m-%dT%H:%M:%S.%fZ")
        payload = canonical(entry.payload)
        try:
            read_payload(payload)
        except ValueError as trouble:
            raise BookError(f"That is more than the book can hold ({trouble}); say it in other words.") from trouble
        fields = (last + 1, time, entry.kind, payload, heard, engine, audio, reply, previous)
        return Row(*fields, hash=chain_hash(*fields))

    def _insert(self, row: Row) -> Row:
        before = self._connection.total_changes
        insert(self._connection, row)
        if self._connection.total_changes != before + 1:
            raise damaged(self._name, f"entry {row.sequence} was not taken")
        return row
