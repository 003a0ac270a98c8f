"""Whatever was answered is in the book: after a kill, a power cut, a failing disk or a torn log."""

import random
import re
import shutil
import subprocess
from collections.abc import Iterator
from dataclasses import dataclass, field
from pathlib import Path

import pytest
from books import CHILD, PYTHON, clock, die_writing, write

from assistant.book.store import Book
from assistant.book.verify import findings

ENGINE_WRITER = """
import sys
from pathlib import Path
from assistant.book.store import Book
from assistant.talk.session import Session
with Book.open(Path(sys.argv[1])) as book:
    session = Session(book)
    for words in ("rod in feet and inches", "baseline four foot two at station zero", "confirm"):
        session.utterance([words])
    print("ready", flush=True)
    for number in range(1000):
        outcome = session.utterance([f"reading four foot two at {10 + number}"])
        print(outcome.rows[0].sequence, flush=True)
        session.settle()
"""

WRITER = """
import os, sys
from pathlib import Path
from assistant.book.entries import Entry
from assistant.book.errors import BookError
from assistant.book.store import Book
with Book.open(Path(sys.argv[1])) as book:
    for number in range(4):
        try:
            row, _ = book.append([Entry("reading", {"of": str(number)})] * 2, heard="h" * 700, engine="typed",
                                 audio=None, reply="ok")
        except BookError as trouble:
            os.write(1, f"refused {number}\\n".encode())
            continue
        os.write(1, f"answered {number}\\n".encode())
        if number % 2:
            book.settle()
    if sys.argv[2:]:
        os.kill(os.getpid(), 9)
"""


def check_book(path: Path, answered: set[int], refused: set[int] = frozenset()) -> None:  # type: ignore[assignment]
    """Everything answered is there and whole, nothing refused is, and the book can go on."""
    if not path.exists() and not answered:
        return
    with Book.open(path, clock) as book:
        rows = list(book.rows())
        assert list(findings(rows)) == []
        there = [int(row.payload["of"]) for row in rows]
        assert answered <= set(there)
        assert not refused & set(there)
        assert all(there.count(number) == 2 for number in there)
        write(book, 1)


def told(text: str, what: str) -> set[int]:
    return {int(number) for number in re.findall(rf"{what} (\d+)\n", text)}


@pytest.mark.parametrize("seed", range(15))
def test_what_was_answered_is_in_the_book_after_a_kill(path: Path, seed: int) -> None:
    """Killed in the middle of a thousand readings: every reading whose reply was printed is there."""
    dice = random.Random(seed)
    command = [PYTHON, "-c", ENGINE_WRITER, str(path)]
    child = subprocess.Popen(command, stdout=subprocess.PIPE, text=True, env=CHILD)
    assert child.stdout is not None
    assert child.stdout.readline() == "ready\n"
    printed = [child.stdout.readline() for _ in range(dice.randrange(1, 900))]
    child.kill()
    printed += child.stdout.readlines()
    child.wait()
    child.stdout.close()
    last = max(int(line) for line in printed if line.endswith("\n"))
    with Book.open(path, clock) as book:
        rows = list(book.rows())
        assert list(findings(rows)) == []
        assert rows[-1].sequence >= last
        write(book, 1)


TRACED = "openat,write,pwrite64,fsync,fdatasync,ftruncate,unlink"


def traced(path: Path, *options: str, dies: bool = False) -> tuple[str, str]:
    """What a writer printed, and the calls that it made on the book's files and on its output."""
    if shutil.which("strace") is None:
        pytest.skip("needs strace")
    trace = path.with_name("trace")
    files = [part for name in ("", "-wal", "-journal") for part in ("-P", f"{path}{name}")]
    command = ["strace", "-y", "-xx", "-s", "99999", "-o", trace, *options, *files, PYTHON, "-c", WRITER, path]
    done = subprocess.run([*command, *(["dies"] if dies else [])], env=CHILD, capture_output=True, text=True)
    if not trace.exists() or "ptrace" in done.stderr:
        pytest.skip("a process cannot be traced here")
    return done.stdout, trace.read_text()


def calls(path: Path) -> list[str]:
    """The calls, by name, that a writer makes from its beginning to its end."""
    _, trace = traced(path.with_name("whole"), "-e", f"trace={TRACED}")
    return re.findall(r"^(\w+)\(", trace, re.MULTILINE)


def test_a_kill_at_any_call_on_the_files_loses_nothing(tmp_path: Path) -> None:
    made = calls(tmp_path / "x")
    assert len(made) > 30
    for number in range(1, len(made) + 1):
        path = tmp_path / f"killed at {number}"
        printed, _ = traced(path, "-e", f"trace={TRACED}", "-e", f"inject={TRACED}:signal=KILL:when={number}")
        if path.exists() and path.stat().st_size == 0:
            assert not told(printed, "answered")  # killed between the making of the file and its first byte
            continue
        check_book(path, told(printed, "answered"))


@pytest.mark.parametrize("error", ["EIO", "ENOSPC"])
def test_any_call_on_the_files_may_fail(tmp_path: Path, error: str) -> None:
    """What was answered is there, and what was refused is not, though the process died right after."""
    writes = "pwrite64,fsync,fdatasync,ftruncate"
    refusals = 0
    for number in range(1, sum(name in writes for name in calls(tmp_path / "x")) + 1):
        path = tmp_path / f"failed at {number}"
        inject = f"inject={writes}:error={error}:when={number}"
        printed, _ = traced(path, "-e", f"trace={writes}", "-e", inject, dies=True)
        refused = told(printed, "refused")
        refusals += len(refused)
        check_book(path, told(printed, "answered"), refused)
    assert refusals > 3


@dataclass
class Disk:
    """Two files as a disk may hold them when the power goes: what was flushed, and any part of what was not."""

    flushed: dict[str, bytes] = field(default_factory=dict)
    waiting: list[tuple[str, int, bytes | None]] = field(default_factory=list)
    answered: set[int] = field(default_factory=set)

    def flush(self, name: str) -> None:
        for change in [change for change in self.waiting if change[0] == name]:
            _apply(self.flushed, *change)
        self.waiting = [change for change in self.waiting if change[0] != name]

    def after_a_cut(self, dice: random.Random) -> dict[str, bytes]:
        files = dict(self.flushed)
        kept = dice.choice((0, 0.5, 1))
        for name, offset, data in self.waiting:
            if data is None:
                if dice.random() < kept:
                    _apply(files, name, offset, None)
                continue
            for start in range(0, len(data), 512):
                if dice.random() < kept:
                    _apply(files, name, offset + start, data[start : start + 512])
        return files


def _apply(files: dict[str, bytes], name: str, offset: int, data: bytes | None) -> None:
    held = files.get(name, b"")
    if data is None:
        files[name] = held[:offset].ljust(offset, b"\0")
    else:
        files[name] = held[:offset].ljust(offset, b"\0") + data + held[offset + len(data) :]


CALL = re.compile(r'(\w+)\((?:\d+<([^>]*)>)?(?:, )?(?:"([^"]*)")?(?:, )?(\d+)?(?:, )?(\d+)?.*\) += (-?\d+)')


def moments(trace: str) -> Iterator[Disk]:
    """The disk after each call."""
    disk = Disk()
    for line in trace.splitlines():
        if (found := CALL.match(line)) is None:
            continue
        call, where, text, first, second, _ = found.groups()
        name = Path(_bytes(where or "").decode()).name
        if call == "write" and not name.startswith("day"):
            disk.answered |= told(_bytes(text).decode(), "answered")
        elif call == "write":
            disk.waiting.append((name, 0, _bytes(text)))
        elif call == "pwrite64":
            disk.waiting.append((name, int(second), _bytes(text)))
        elif call == "ftruncate":
            disk.waiting.append((name, int(first), None))
        elif call in ("fsync", "fdatasync"):
            disk.flush(name)
        elif call == "unlink":
            return
        yield disk


def _bytes(text: str) -> bytes:
    return bytes.fromhex(text.replace("\\x", ""))


def test_a_power_cut_at_any_moment_loses_nothing_that_was_answered(tmp_path: Path) -> None:
    """Writes not yet flushed may be lost, whole or by sectors, in any order."""
    path = tmp_path / "written" / "day"
    path.parent.mkdir()
    traced(path.with_name("tried"))  # skips where that cannot be done
    printed = tmp_path / "output"
    command = [
        "strace",
        "-y",
        "-xx",
        "-s",
        "99999",
        "-e",
        f"trace={TRACED}",
        "-o",
        tmp_path / "all",
        PYTHON,
        "-c",
        WRITER,
    ]
    with printed.open("w") as output:
        subprocess.run([*command, path], env=CHILD, stdout=output, check=True)
    kept = [line for line in (tmp_path / "all").read_text().splitlines() if _concerns(line, path, printed)]
    dice = random.Random(7)
    most = 0
    for number, disk in enumerate(moments("\n".join(kept))):
        for again in range(6):
            place = tmp_path / f"cut {number} {again}"
            place.mkdir()
            files = disk.after_a_cut(dice)
            for name, data in files.items():
                (place / name).write_bytes(data)
            if disk.answered or len(disk.flushed.get("day", b"")):
                check_book(place / "day", disk.answered)
                most = max(most, len(disk.answered))
    assert most == 4


def _concerns(line: str, *paths: Path) -> bool:
    return any("".join(f"\\x{byte:02x}" for byte in str(path).encode()) in line for path in paths)


def test_a_torn_log_gives_the_rows_up_to_the_tear(path: Path, tmp_path: Path) -> None:
    die_writing(path, 12)
    log = Path(f"{path}-wal").read_bytes()
    book = path.read_bytes()
    dice = random.Random(3)
    seen = set()
    for number in range(60):
        torn = tmp_path / f"torn {number}"
        torn.write_bytes(book)
        at = dice.randrange(len(log))
        Path(f"{torn}-wal").write_bytes(log[:at] + (dice.randbytes(len(log) - at) if number % 2 else b""))
        with Book.open(torn, clock) as opened:
            rows = list(opened.rows())
            assert [row.sequence for row in rows] == list(range(1, len(rows) + 1))
            assert list(findings(rows)) == []
            write(opened, 1)
        seen.add(len(rows))
    assert len(seen) > 5


def test_a_log_that_was_half_moved_into_the_book_is_no_damage(path: Path) -> None:
    """A kill within `settle` leaves a first page that tells of pages still in the log only."""
    with Book.open(path, clock) as book:
        write(book, 1)
    die_writing(path, 60)
    log = Path(f"{path}-wal").read_bytes()
    data = bytearray(path.read_bytes())
    first = [log[at + 24 : at + 24 + 4096] for at in range(32, len(log), 4120) if log[at : at + 4] == b"\0\0\0\1"][-1]
    data[:4096] = first
    path.write_bytes(bytes(data))
    with Book.open(path, clock) as book:
        assert len(list(book.rows())) == 61
