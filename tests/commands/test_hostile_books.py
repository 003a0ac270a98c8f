"""Books whose chain is right and whose content is not, odd files and odd names: one plain line, never a trace."""

import io
import json
import os
import random
import signal
import sqlite3
import subprocess
import sys
from collections.abc import Iterator
from concurrent.futures import ThreadPoolExecutor
from contextlib import closing, suppress
from datetime import UTC, datetime
from pathlib import Path
from typing import Any
from xml.etree import ElementTree as Tree

import pytest
from fixtures import ROOT

from assistant import cli
from assistant.book.entries import FIRST_PREVIOUS, Row, chain_hash
from assistant.book.errors import BookError
from assistant.book.store import Book
from assistant.book.table import insert, unsafely
from assistant.environment import Environment, ExitStatus
from assistant.page.profile import profile
from assistant.page.talk import Origin, Talk
from assistant.talk.session import Session

TALK = [
    "rod in feet and inches", "benchmark one hundred feet", "confirm", "backsight four foot two", "confirm",
    "line from station zero elevation ninety nine feet falling two percent", "confirm",
    "reading three foot nine at station forty", "reading four foot nine at station fifty", "scratch that",
    "check benchmark four foot two", "tolerance half an inch", "confirm", "foresight three foot one", "confirm",
]  # fmt: skip

HOSTILE: list[Any] = [
    "1e30000000", "1/0", "NaN", "9" * 5000, "-1e999999999", "1/" + "9" * 5000, "", None, True, -1, 10**400, [], {},
    [1], {"amount": "1e9999999"}, "\x1b]0;x\x07", "[/bold]", "\ud800", "x" * 20_000,
]  # fmt: skip


def environment(folder: Path) -> Environment:
    return Environment(
        stdin=io.StringIO(), stdout=io.StringIO(), stderr=io.StringIO(), clock=lambda: datetime(2026, 5, 4, tzinfo=UTC),
        books=folder / "books", settings=folder / "none.toml", state=folder / "state",
    )  # fmt: skip


def run(folder: Path, *arguments: object) -> tuple[int, str, str]:
    world = environment(folder)
    status = cli.main([str(argument) for argument in arguments], world)
    assert isinstance(world.stdout, io.StringIO)
    assert isinstance(world.stderr, io.StringIO)
    return status, world.stdout.getvalue(), world.stderr.getvalue()


@pytest.fixture(scope="module")
def sound() -> list[Row]:
    with Book.scratch() as book:
        session = Session(book)
        session.begin()
        for words in TALK:
            session.utterance([words])
        return list(book.rows())


def chained(rows: list[tuple[str, str, str, str]]) -> list[Row]:
    """Rows of (time, kind, payload, reply) with the chain that they call for."""
    previous, made = FIRST_PREVIOUS, []
    for number, (time, kind, payload, reply) in enumerate(rows, 1):
        fields = (number, time, kind, payload, "x", "typed", None, reply, previous)
        row = Row(*fields, hash=chain_hash(*fields))
        made.append(row)
        previous = row.hash
    return made


def told(rows: list[Row]) -> list[tuple[str, str, str, str]]:
    return [(row.time, row.kind, row.payload_text, row.reply) for row in rows]


def write(path: Path, rows: list[tuple[str, str, str, str]]) -> Path:
    with closing(unsafely(path)) as connection:
        for row in chained(rows):
            insert(connection, row)
        connection.execute("COMMIT")
    return path


def places(payload: Any) -> Iterator[tuple[Any, Any]]:
    """Every place in a payload: what holds it, and its name or number there."""
    for name in list(payload) if isinstance(payload, dict) else range(len(payload)):
        yield payload, name
        if isinstance(payload[name], dict | list):
            yield from places(payload[name])


@pytest.fixture
def soon() -> Iterator[None]:
    """No reader may hang."""

    def late(*_: object) -> None:
        raise TimeoutError("a reader hangs")

    signal.signal(signal.SIGALRM, late)
    signal.alarm(60)
    yield
    signal.alarm(0)


def readers(path: Path) -> list[tuple[object, ...]]:
    out = path.parent
    return [
        ("ask", "--book", path, "where are we", "reading four foot two at sixty", "scratch that"),
        ("talk", "--typed", "--quiet", "--book", path),
        ("book", path, "--once"),
        ("report", path, "-o", out / "x.html"),
        *(("export", path, "--format", kind) for kind in ("csv", "jsonl", "landxml")),
        ("verify", path),
        ("play", path, 3, "-o", out / "x.wav"),
        ("hear", "--book", path, out / "no.wav"),
    ]


def check(path: Path, *, refused: bool) -> None:
    content = path.read_bytes()
    for arguments in readers(path):
        status, out, errors = run(path.parent, *arguments)
        assert status in tuple(ExitStatus), arguments
        assert status != ExitStatus.DEFECT, (arguments, errors)
        if refused:
            assert status != ExitStatus.OK, (arguments, out[-200:])
        assert "Traceback" not in out + errors
        assert "\x1b" not in errors + (out if arguments[0] != "export" else "")
        if status != ExitStatus.OK:
            assert len((out if arguments[0] in ("verify", "ask") else errors).splitlines()) < 12
        path.write_bytes(content)
    check_page(path)
    path.write_bytes(content)


def check_page(path: Path) -> None:
    """The page's talk is one that works, or a trouble that is told."""
    with suppress(BookError), Book.open(path) as book:
        talk = Talk(book)
        talk.lines()
        profile(talk.session.job, talk.rows())
        talk.take(Origin("a" * 16, 1, 0, talk.last_sequence), ["reading four foot two at sixty"])


@pytest.mark.usefixtures("soon")
@pytest.mark.parametrize("seed", [*range(24), 34, 64])
def test_a_changed_payload_is_answered_in_a_line(sound: list[Row], tmp_path: Path, seed: int) -> None:
    """The chain is made anew, so that only the content can tell."""
    dice = random.Random(seed)
    rows = told(sound)
    at = dice.randrange(1, len(rows))
    payload = json.loads(rows[at][2])
    found = list(places(payload))
    if found:
        where, name = dice.choice(found)
        if dice.random() < 0.25:
            del where[name]
        else:
            where[name] = dice.choice(HOSTILE)
    rows[at] = (rows[at][0], rows[at][1], json.dumps(payload), rows[at][3])
    check(write(tmp_path / "day.rodside", rows), refused=False)


@pytest.mark.usefixtures("soon")
@pytest.mark.parametrize(
    ("kind", "payload"),
    [
        ("tolerance", '{"length":{"amount":"1e30000000","unit":"ft","marking":"tenths of a foot","step":"1"}}'),
        ("tolerance", '{"length":{"amount":"1/0","unit":"ft","marking":"tenths of a foot","step":"1"}}'),
        ("tolerance", '{"length":{"amount":NaN}}'),
        ("tolerance", '{"length":{"amount":1e999}}'),
        ("tolerance", '{"length":{"amount":"%s"}}' % ("9" * 5000)),
        ("tolerance", '{"length":' + "[" * 50_000 + "]" * 50_000 + "}"),
        ("tolerance", '{"length":' + "[" * 100 + "]" * 100 + "}"),
        ("tolerance", "[]"),
        ("tolerance", "{"),
    ],
)
def test_what_no_entry_holds_is_refused_by_all(sound: list[Row], tmp_path: Path, kind: str, payload: str) -> None:
    rows = told(sound)
    path = write(tmp_path / "day.rodside", [*rows, (rows[-1][0], kind, payload, "x")])
    content = path.read_bytes()
    for arguments in readers(path)[:5]:
        status, _, errors = run(tmp_path, *arguments)
        assert status == ExitStatus.BOOK, arguments
        assert f"Entry {len(rows) + 1} is damaged" in errors
        assert len(errors.splitlines()) == 1
        assert path.read_bytes()[100:] == content[100:]
    assert run(tmp_path, "verify", path)[0] != ExitStatus.OK


@pytest.mark.usefixtures("soon")
@pytest.mark.parametrize("seed", range(6))
def test_bytes_that_are_no_file_of_sqlite_are_answered_in_a_line(sound: list[Row], tmp_path: Path, seed: int) -> None:
    dice = random.Random(seed)
    path = write(tmp_path / "day.rodside", told(sound))
    content = bytearray(path.read_bytes())
    for _ in range(40):
        content[dice.randrange(100, len(content))] = dice.randrange(256)
    path.write_bytes(bytes(content))
    check(path, refused=False)


def test_what_a_terminal_would_obey_is_shown_instead(sound: list[Row], tmp_path: Path) -> None:
    rows = told(sound)
    bad = "\x1b]0;owned\x07\x9b31m\u202e[link=http://x]y[/link][/bold]\nrodside: all is well"
    rows = [(time, kind, payload, bad) for time, kind, payload, _ in rows]
    path = write(tmp_path / "day\x1b[31m.rodside", rows)
    for arguments in (*readers(path), ("book", tmp_path / "none\x1b[2J"), ("ask", "\x1b[2J", "--json")):
        status, out, errors = run(tmp_path, *arguments)
        if arguments[0] != "export":
            assert not {"\x1b", "\x07", "\x9b", "\u202e"} & set(out + errors), arguments
        if "--json" in arguments:
            assert json.loads(out)["heard"] == "\x1b[2J"
        assert status != ExitStatus.DEFECT
    _, out, _ = run(tmp_path, "book", path, "--once")
    assert "[/bold]" in out
    assert not any(line.startswith("rodside:") for line in out.splitlines())


def test_a_time_is_no_formula_and_landxml_is_well_formed(sound: list[Row], tmp_path: Path) -> None:
    rows = [('=HYPERLINK("http://x")', kind, payload, "\x01") for _, kind, payload, _ in told(sound)]
    path = write(tmp_path / "a\x01\udcff.rodside", rows)
    _, out, _ = run(tmp_path, "export", path)
    assert all(line.split(",")[1].lstrip('"').startswith("'=") for line in out.splitlines()[1:])
    status, out, _ = run(tmp_path, "export", path, "--format", "landxml")
    assert status == ExitStatus.OK
    Tree.fromstring(out)


def test_a_defect_within_a_talk_is_one_line_too_and_the_talk_goes_on(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    def broken(*_: object, **__: object) -> None:
        raise ZeroDivisionError("of ours")

    monkeypatch.setattr("assistant.talk.session.respond", broken)
    _, out, errors = run(tmp_path, "ask", "rod in tenths", "help")
    log = tmp_path / "state" / "defects.log"
    assert out.count("Something broke in me. Nothing was written. Say it another way.") == 2
    assert "Traceback" not in errors
    assert (
        errors.count(f"Something went wrong inside Rodside: ZeroDivisionError: of ours; the details are in {log}.") == 2
    )
    assert log.read_text().count("Traceback") == 2


def test_an_unexpected_exception_is_one_line_and_its_details_are_kept(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    def broken(*_: object) -> None:
        raise ZeroDivisionError("by\x1bzero")

    monkeypatch.setattr("assistant.commands.ask.run", broken)
    status, out, errors = run(tmp_path, "ask", "status")
    log = tmp_path / "state" / "defects.log"
    assert status == ExitStatus.DEFECT == 70
    assert out == ""
    assert errors == (
        f"rodside: Something went wrong inside Rodside: ZeroDivisionError: by\\u001bzero; the details are in {log}.\n"
    )
    assert "Traceback" in log.read_text()
    assert log.stat().st_mode & 0o777 == 0o600
    monkeypatch.setenv("RODSIDE_DEBUG", "1")
    with pytest.raises(ZeroDivisionError):
        run(tmp_path, "ask", "status")


def test_a_defect_of_ours_is_not_told_as_an_entry_that_is_unknown(
    sound: list[Row], tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    def broken(*_: object) -> None:
        raise TypeError("ours")

    path = write(tmp_path / "day.rodside", told(sound))
    monkeypatch.setattr("assistant.report.contents.told", broken)
    monkeypatch.setattr("assistant.report.landxml.to_landxml", broken)
    monkeypatch.setattr("assistant.commands.book.print_table", broken)
    for arguments in (
        ("report", path), ("export", path, "--format", "landxml"), ("book", path, "--once"),
    ):  # fmt: skip
        assert run(tmp_path, *arguments)[0] == ExitStatus.DEFECT, arguments
    assert (tmp_path / "state" / "defects.log").read_text().count("TypeError: ours") == 3


def exported(sound: list[Row], folder: Path) -> Path:
    book = write(folder / "from.rodside", told(sound))
    run(folder, "export", book, "-o", folder / "day.jsonl")
    return folder / "day.jsonl"


def test_imports_at_once_into_one_name_lose_nothing(sound: list[Row], tmp_path: Path) -> None:
    file = exported(sound, tmp_path)
    for number in range(6):
        book = tmp_path / f"{number}.rodside"
        with ThreadPoolExecutor(3) as pool:
            done = list(pool.map(lambda _, book=book: run(tmp_path, "import", book, file), range(3)))
        assert ExitStatus.DEFECT not in [status for status, _, _ in done]
        if any(status == ExitStatus.OK for status, _, _ in done):
            with Book.open(book, read_only=True) as kept:
                assert len(list(kept.rows())) == len(sound)


def test_a_failed_import_removes_only_what_it_made(sound: list[Row], tmp_path: Path) -> None:
    file = exported(sound, tmp_path)
    lines = file.read_text().splitlines()
    file.write_text("\n".join([*lines[:3], *lines[4:]]))
    new, old = tmp_path / "new.rodside", tmp_path / "old.rodside"
    assert run(tmp_path, "import", new, file)[0] == ExitStatus.BOOK
    assert not new.exists()
    Book.open(old).close()
    assert run(tmp_path, "import", old, file)[0] == ExitStatus.BOOK
    assert old.exists()


def test_an_import_takes_the_mark_of_a_spreadsheet_and_no_endless_file(sound: list[Row], tmp_path: Path) -> None:
    file = exported(sound, tmp_path)
    file.write_bytes(b"\xef\xbb\xbf" + file.read_bytes())
    assert run(tmp_path, "import", tmp_path / "new.rodside", file)[0] == ExitStatus.OK
    pipe, loop, large = tmp_path / "pipe", tmp_path / "loop", tmp_path / "large"
    os.mkfifo(pipe)
    loop.symlink_to(loop)
    with large.open("wb") as stream:
        stream.truncate(50_000_000)
    for bad in (Path("/dev/zero"), pipe, loop, large, tmp_path):
        status, _, errors = run(tmp_path, "import", tmp_path / "other.rodside", bad)
        assert status == ExitStatus.BOOK, bad
        assert len(errors.splitlines()) == 1
        assert not (tmp_path / "other.rodside").exists()
    for arguments in readers(loop):
        assert run(tmp_path, *arguments)[0] == ExitStatus.BOOK


def test_a_book_with_two_names_is_told_by_those_that_read(sound: list[Row], tmp_path: Path) -> None:
    path = write(tmp_path / "day.rodside", told(sound))
    (tmp_path / "other").hardlink_to(path)
    status, out, _ = run(tmp_path, "verify", path)
    assert status == ExitStatus.NOT_UNDERSTOOD
    assert "another name" in out
    status, _, errors = run(tmp_path, "book", path, "--once")
    assert (status, "another name" in errors) == (ExitStatus.OK, True)
    status, _, errors = run(tmp_path, "ask", "--book", path, "status")
    assert (status, "hard link" in errors) == (ExitStatus.BOOK, True)


def test_names_that_are_not_utf_8_are_answered(tmp_path: Path) -> None:
    for command in (["book", b"x\xff.rodside"], ["ask", b"\xff"], ["import", b"x\xff", b"y\xff"]):
        done = subprocess.run(
            [sys.executable, "-m", "assistant", *command], cwd=tmp_path, capture_output=True, check=False,
            env={**os.environ, "PYTHONPATH": str(ROOT), "PYTHONUTF8": "1", "XDG_STATE_HOME": str(tmp_path)},
        )  # fmt: skip
        assert b"Traceback" not in done.stderr
        assert done.returncode in (ExitStatus.BOOK, ExitStatus.NOT_UNDERSTOOD)


def test_a_trigger_that_passes_entries_over_is_no_answer(sound: list[Row], tmp_path: Path) -> None:
    path = write(tmp_path / "day.rodside", told(sound))
    outside = sqlite3.connect(path)
    outside.execute("CREATE TRIGGER over BEFORE INSERT ON entries BEGIN SELECT RAISE(IGNORE); END")
    outside.close()
    check(path, refused=True)
