"""Whatever is wrong with a place or a file, one sentence says so, and nothing of it is touched."""

import os
import re
import resource
import shutil
import signal
import sqlite3
import subprocess
from pathlib import Path

import numpy as np
import pytest
from books import clock, count, die_writing, write

from assistant.book import file, store
from assistant.book.errors import (
    BookError,
    DamagedBook,
    DiskFull,
    NewerBook,
    NotABook,
    ReadOnlyBook,
)
from assistant.book.sounds import Sounds
from assistant.book.store import Book
from assistant.book.verify import findings


def refusal(kind: type[BookError], path: Path, *, read_only: bool) -> str:
    with pytest.raises(kind) as caught:
        Book.open(path, clock, read_only=read_only)
    text = str(caught.value)
    assert re.fullmatch(r"[^\n]+\.", text)
    return text


@pytest.mark.parametrize("read_only", [False, True])
def test_what_is_no_book_is_refused_and_not_touched(tmp_path: Path, read_only: bool) -> None:
    text = tmp_path / "notes.txt"
    text.write_text("cut two feet")
    empty = tmp_path / "empty"
    empty.touch()
    other = tmp_path / "other.db"
    connection = sqlite3.connect(other)
    connection.execute("PRAGMA journal_mode = WAL")
    connection.execute("CREATE TABLE entries (a)")
    connection.close()
    pipe = tmp_path / "pipe"
    os.mkfifo(pipe)
    before = {name: name.read_bytes() for name in (text, empty, other)}
    assert "folder" in refusal(NotABook, tmp_path, read_only=read_only)
    assert "empty" in refusal(NotABook, empty, read_only=read_only)
    assert "not a book" in refusal(NotABook, text, read_only=read_only)
    assert "not a book" in refusal(NotABook, other, read_only=read_only)
    assert "not a file" in refusal(NotABook, pipe, read_only=read_only)
    assert "no folder" in refusal(NotABook, tmp_path / "no" / "day", read_only=read_only)
    refusal(BookError, tmp_path / ("n" * 300), read_only=read_only)
    assert {name: name.read_bytes() for name in before} == before
    assert {name.name for name in tmp_path.iterdir()} == {"notes.txt", "empty", "other.db", "pipe"}


def test_nothing_is_made_when_only_reading(path: Path) -> None:
    assert "no book" in refusal(NotABook, path, read_only=True)
    assert not path.exists()


def newer(path: Path, *changes: str) -> None:
    outside = sqlite3.connect(path)
    for change in (f"PRAGMA user_version = {file.FORMAT + 1}", *changes):
        outside.execute(change)
    outside.close()


def test_a_newer_book_is_read_and_not_added_to(path: Path) -> None:
    with Book.open(path, clock) as book:
        write(book, 2)
    newer(path, "ALTER TABLE entries ADD COLUMN more TEXT")
    assert "newer version" in refusal(NewerBook, path, read_only=False)
    assert count(path) == 2


def test_a_newer_book_that_cannot_be_read_is_not_called_damaged(path: Path) -> None:
    Book.open(path, clock).close()
    newer(path, "ALTER TABLE entries RENAME COLUMN heard TO words")
    assert "newer version" in refusal(NewerBook, path, read_only=True)


@pytest.mark.parametrize("rule", ["nothing_changes", "nothing_goes", "nothing_is_replaced"])
def test_a_book_without_its_rules_is_not_opened(path: Path, rule: str) -> None:
    with Book.open(path, clock) as book:
        write(book, 2)
    outside = sqlite3.connect(path)
    outside.execute(f"DROP TRIGGER {rule}")
    outside.close()
    for read_only in (False, True):
        assert "rules" in refusal(DamagedBook, path, read_only=read_only)


ENDLESS = """
CREATE VIEW entries AS WITH RECURSIVE more(n) AS (SELECT 1 UNION ALL SELECT n + 1 FROM more)
SELECT n AS sequence, '' AS time, 'rod' AS kind, '{}' AS payload, NULL AS heard, NULL AS engine, NULL AS audio,
       '' AS reply, '' AS previous, '' AS hash FROM more
"""


@pytest.mark.parametrize(
    "change",
    [
        "CREATE TRIGGER passed_over BEFORE INSERT ON entries BEGIN SELECT RAISE(IGNORE); END",
        "CREATE TABLE more (a)",
        "CREATE INDEX more ON entries (kind)",
        "CREATE VIEW more AS SELECT * FROM entries",
        f"DROP TABLE entries; {ENDLESS}",
        "ALTER TABLE entries ADD COLUMN more TEXT",
        "ANALYZE",
    ],
)
@pytest.mark.parametrize("read_only", [False, True])
def test_a_book_with_other_rules_is_not_opened(path: Path, change: str, read_only: bool) -> None:
    with Book.open(path, clock) as book:
        write(book, 2)
    outside = sqlite3.connect(path)
    outside.executescript(change)
    outside.close()
    assert "rules" in refusal(DamagedBook, path, read_only=read_only)


@pytest.mark.parametrize(
    "change",
    [
        f"DROP TABLE entries; {ENDLESS}",
        "CREATE VIEW more AS SELECT 1",
        "CREATE VIRTUAL TABLE more USING fts5(a)",
        "ALTER TABLE entries ADD COLUMN more TEXT AS (hex(zeroblob(100000000)))",
    ],
)
def test_a_newer_book_is_asked_only_for_what_was_written(path: Path, change: str) -> None:
    with Book.open(path, clock) as book:
        write(book, 2)
    outside = sqlite3.connect(path)
    outside.executescript(f"PRAGMA user_version = {file.FORMAT + 1}; {change}")
    outside.close()
    assert "more than tables" in refusal(DamagedBook, path, read_only=True)


def test_an_entry_that_was_not_taken_is_not_called_written(path: Path) -> None:
    """The rules are looked at when a book is opened; one that comes later is found by what it does."""
    with Book.open(path, clock) as book:
        write(book, 2)
        outside = sqlite3.connect(path)
        outside.execute("CREATE TRIGGER passed_over BEFORE INSERT ON entries BEGIN SELECT RAISE(IGNORE); END")
        outside.close()
        with pytest.raises(DamagedBook, match="entry 3 was not taken"):
            write(book, 1)
        assert len(list(book.rows())) == 2


def test_a_file_that_gives_no_row_is_not_waited_for(path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    with Book.open(path, clock) as book:
        monkeypatch.setattr(store, "PATIENCE", 0.2)
        with pytest.raises(DamagedBook, match="interrupted"), book._answering():
            book._connection.execute(f"SELECT count(*) FROM ({ENDLESS.split('AS', 1)[1]})").fetchone()


def test_a_page_that_comes_again_is_not_read_without_end(path: Path) -> None:
    """The root of the tree says that all of its leaves are the first one."""
    with Book.open(path, clock) as book:
        write(book, 60)
    data = bytearray(path.read_bytes())
    root = next(at for at in range(4096, len(data), 4096) if data[at] == 5)
    cells = int.from_bytes(data[root + 3 : root + 5], "big")
    places = [int.from_bytes(data[root + 12 + 2 * n : root + 14 + 2 * n], "big") for n in range(cells)]
    first = bytes(data[root + places[0] : root + places[0] + 4])
    for place in (*places, 8):
        data[root + place : root + place + 4] = first
    path.write_bytes(bytes(data))
    with Book.open(path, clock, read_only=True) as book, pytest.raises(DamagedBook, match="out of order"):
        list(book.rows())


def test_a_book_with_two_names_is_read_with_a_word_and_not_written(path: Path, tmp_path: Path) -> None:
    """Each name has a log of its own: after a kill the other one would show a shorter book."""
    die_writing(path, 3)
    other = tmp_path / "other.rodside"
    other.hardlink_to(path)
    for name in (path, other):
        assert "hard link" in refusal(BookError, name, read_only=False)
        with Book.open(name, clock, read_only=True) as book:
            assert "another name" in (book.caution() or "")
    other.unlink()
    with Book.open(path, clock) as book:
        assert len(list(book.rows())) == 3
        assert book.caution() is None


def test_a_book_and_its_folder_of_sounds_are_nobody_elses(path: Path) -> None:
    Book.open(path, clock).close()
    name = Sounds(path).keep(np.zeros(160, np.int16), 16_000)
    assert path.stat().st_mode & 0o777 == 0o600
    folder = Sounds(path).folder
    assert folder.stat().st_mode & 0o777 == 0o700
    assert (folder / f"{name}.flac").stat().st_mode & 0o777 == 0o600


def test_a_reader_cannot_write(path: Path) -> None:
    with Book.open(path, clock) as book:
        write(book, 1)
    with Book.open(path, clock, read_only=True) as reader, pytest.raises(ReadOnlyBook):
        write(reader, 1)


def test_a_full_disk_loses_nothing_that_was_written_and_the_book_goes_on(small_disk: Path) -> None:
    filler = small_disk / "filler"
    filler.write_bytes(b"x" * 40_000)
    with Book.open(small_disk / "day.rodside", clock) as book:
        written = 0
        with pytest.raises(DiskFull, match="full"):
            for written in range(10_000):
                write(book, 1, start=written)
        assert written > 0
        assert len(list(book.rows())) == written
        filler.unlink()
        write(book, 1, start=written)
        assert [row.sequence for row in book.rows()] == list(range(1, written + 2))
        assert list(findings(book.rows())) == []
    assert count(small_disk / "day.rodside", read_only=False) == written + 1


def test_a_book_that_finds_no_room_at_its_start_can_be_made_later(small_disk: Path) -> None:
    filler = small_disk / "filler"
    for size in range(80_000, 131_072, 4096):
        filler.write_bytes(b"x" * size)
        path = small_disk / "day.rodside"
        try:
            Book.open(path, clock).close()
        except DiskFull:
            filler.unlink()
            with Book.open(path, clock) as book:
                write(book, 1)
        path.unlink()


def test_a_limit_on_the_size_of_files_loses_nothing(path: Path) -> None:
    old = resource.getrlimit(resource.RLIMIT_FSIZE)
    heard = signal.signal(signal.SIGXFSZ, signal.SIG_IGN)
    with Book.open(path, clock) as book:
        try:
            resource.setrlimit(resource.RLIMIT_FSIZE, (50_000, old[1]))
            written = 0
            with pytest.raises(BookError):
                for written in range(10_000):
                    write(book, 1, start=written)
        finally:
            resource.setrlimit(resource.RLIMIT_FSIZE, old)
            signal.signal(signal.SIGXFSZ, heard)
        assert len(list(book.rows())) == written > 0
        write(book, 1, start=written)
    assert count(path, read_only=False) == written + 1


@pytest.mark.parametrize("settled", [True, False])
def test_a_disk_that_cannot_be_written_can_be_read(small_disk: Path, tmp_path: Path, settled: bool) -> None:
    """Also through a link, and also where the one that wrote died with its log."""
    path = small_disk / "day.rodside"
    link = tmp_path / "link"
    link.symlink_to(path)
    die_writing(path, 3)
    if settled:
        assert count(path, read_only=False) == 3
    subprocess.run(["mount", "-o", "remount,ro", small_disk], check=True)
    for name in (path, link):
        assert "cannot be" in refusal(ReadOnlyBook, name, read_only=False)
        assert count(name) == 3


def test_a_log_that_cannot_be_read_is_told_and_not_left_out(small_disk: Path) -> None:
    path = small_disk / "day.rodside"
    die_writing(path, 3)
    Path(f"{path}-shm").unlink()
    subprocess.run(["mount", "-o", "remount,ro", small_disk], check=True)
    assert "day.rodside-wal" in refusal(ReadOnlyBook, path, read_only=True)


def as_nobody(path: Path, *, read_only: bool) -> str:
    """What a user who owns nothing is told."""
    out, into = os.pipe()
    child = os.fork()
    if child == 0:
        told = "crash"
        try:
            os.setgroups([])
            os.setgid(65534)
            os.setuid(65534)
            told = str(count(path, read_only=read_only))
        except BookError as trouble:
            told = f"{type(trouble).__name__} {trouble}"
        finally:
            os.write(into, told.encode())
            os._exit(0)
    os.close(into)
    with os.fdopen(out) as stream:
        told = stream.read()
    os.waitpid(child, 0)
    return told


@pytest.fixture
def open_place(tmp_path_factory: pytest.TempPathFactory) -> Path:
    if os.name != "posix" or os.geteuid() != 0:
        pytest.skip("only root can become another user")
    place = tmp_path_factory.mktemp("place")
    for folder in (place, *place.parents[:2]):
        folder.chmod(0o755)
    return place


def test_permissions_are_told(open_place: Path) -> None:
    path = open_place / "day.rodside"
    with Book.open(path, clock) as book:
        write(book, 2)
        assert as_nobody(path, read_only=True).startswith("ReadOnlyBook")
        for name in ("", "-wal", "-shm"):
            Path(f"{path}{name}").chmod(0o644)
        assert as_nobody(path, read_only=True) == "2"
        assert as_nobody(path, read_only=False).startswith("ReadOnlyBook")
    assert as_nobody(path, read_only=True) == "2"
    assert as_nobody(open_place / "new", read_only=False).startswith("ReadOnlyBook")
    path.chmod(0o666)
    assert as_nobody(path, read_only=False).startswith("ReadOnlyBook")
    assert as_nobody(path, read_only=True) == "2"
    path.chmod(0o600)
    assert as_nobody(path, read_only=True).startswith("ReadOnlyBook")
    open_place.chmod(0o700)
    assert as_nobody(path, read_only=True).startswith("ReadOnlyBook")


def test_a_file_that_even_root_may_not_change(path: Path) -> None:
    with Book.open(path, clock) as book:
        write(book, 2)
    if shutil.which("chattr") is None or subprocess.run(["chattr", "+i", path], check=False).returncode != 0:
        pytest.skip("a file cannot be made immutable here")
    try:
        refusal(ReadOnlyBook, path, read_only=False)
        assert count(path) == 2
    finally:
        subprocess.run(["chattr", "-i", path], check=True)


def test_a_cut_off_file_is_damaged_or_not_a_book(path: Path) -> None:
    with Book.open(path, clock) as book:
        write(book, 200)
    data = path.read_bytes()
    for length in (1, 50, 99, 4096, len(data) // 2, len(data) - 4096, len(data) - 10, len(data) - 1):
        path.write_bytes(data[:length])
        for read_only in (True, False):
            with pytest.raises((DamagedBook, NotABook)):
                count(path, read_only=read_only)
    path.write_bytes(data)
    assert count(path, read_only=False) == 200
