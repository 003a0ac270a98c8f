"""The office holds what was sent, once, and nobody rewrites it."""

import io
import os
import random
import threading
import time
from concurrent.futures import ThreadPoolExecutor
from datetime import UTC, datetime, timedelta
from itertools import count
from pathlib import Path

import psycopg
import pytest

from assistant import cli
from assistant.book.entries import FIRST_PREVIOUS, Row, canonical, chain_hash
from assistant.book.store import Book
from assistant.book.verify import findings
from assistant.environment import Environment, ExitStatus
from assistant.office import store
from assistant.office.errors import AnotherHistory, OfficeError, Unreachable
from assistant.report.ledger import unproven
from assistant.talk.session import Session


def entries(size: int, seed: int = 0, *, odd: bool = False) -> list[Row]:
    """A chain of rows such as a book holds; `odd` ones have characters that a database may not like."""
    rows: list[Row] = []
    previous = FIRST_PREVIOUS
    for number in range(1, size + 1):
        payload = canonical({"reading": f"{number}/12", "seed": seed, **({"x": "a\0\ud800\u2028"} if odd else {})})
        heard = "reading \0 \\ \u2028 ½" if odd else f"reading {number}"
        time_ = f"2026-05-04T07:00:00.{number % 1_000_000:06}Z"
        fields = (number, time_, "reading", payload, heard, "typed", None, "ok", previous)
        rows.append(Row(*fields, hash=chain_hash(*fields)))
        previous = rows[-1].hash
    return rows


def push(address: str, crew: str, rows: list[Row], name: str = "day") -> int:
    return store.push(rows, name, lambda: store.connect(f"{address} user={crew}"))


def held(address: str, who: str, book: str, crew: str = "crew1") -> list[Row]:
    with store.connect(f"{address} user={who}") as connection:
        return list(store.rows_of(connection, crew, book))


def test_the_office_holds_the_rows_exactly_and_the_same_push_sends_nothing(office: str) -> None:
    for rows in (entries(2500), entries(5, seed=1, odd=True)):
        assert push(office, "crew1", rows[:2]) == 2
        assert push(office, "crew1", rows) == len(rows) - 2
        assert push(office, "crew1", rows) == 0
        assert held(office, "crew1", rows[0].hash) == rows
        assert held(office, "reader", rows[0].hash) == rows
    assert push(office, "crew1", []) == 0


def test_another_history_is_refused(office: str) -> None:
    rows = entries(10)
    push(office, "crew1", rows)
    forked = [*rows[:5], *entries(10, seed=9)[5:]]
    with pytest.raises(AnotherHistory, match="another entry 10"):
        push(office, "crew1", forked)
    with pytest.raises(AnotherHistory, match="10 entries"):
        push(office, "crew1", rows[:5])
    for bad in (rows[3]._replace(sequence=11), entries(11, seed=9)[10]):
        with pytest.raises(AnotherHistory, match="only grows"):
            push(office, "crew1", [*rows, bad])
    more = entries(20)
    with pytest.raises(AnotherHistory, match="only grows"):
        push(office, "crew1", [*more[:15], more[15]._replace(previous=more[3].hash), *more[16:]])
    assert held(office, "crew1", rows[0].hash) == rows


def test_a_crew_sees_and_adds_to_its_own_books_alone(office: str) -> None:
    rows = entries(3)
    push(office, "crew1", rows)
    assert held(office, "crew2", rows[0].hash) == []
    with store.connect(f"{office} user=crew2") as connection:
        assert store.books(connection) == []
    assert push(office, "crew2", entries(5)) == 5  # a copy of its own, under its own name
    with pytest.raises(OfficeError):
        push(office, "reader", entries(3, seed=4))
    assert held(office, "crew1", rows[0].hash) == rows


REWRITES = [
    "UPDATE rodside.entries SET reply = 'other'",
    "DELETE FROM rodside.entries",
    "TRUNCATE rodside.entries CASCADE",
    "UPDATE rodside.books SET crew = 'crew2'",
    "DELETE FROM rodside.books",
    "INSERT INTO rodside.books (book, crew, name) VALUES ('x', 'crew3', 'x')",
    "ALTER TABLE rodside.entries DISABLE ROW LEVEL SECURITY",
    "ALTER TABLE rodside.entries DISABLE TRIGGER ALL",
    "INSERT INTO rodside.entries SELECT book, 9, time, kind, payload, reply, previous, hash, written"
    " FROM rodside.entries WHERE sequence = 1",
    "INSERT INTO rodside.entries SELECT * FROM rodside.entries ON CONFLICT (book, sequence) DO UPDATE SET reply = 'x'",
]


@pytest.mark.parametrize("who", ["crew1", "crew2", "reader"])
@pytest.mark.parametrize("statement", REWRITES)
def test_nobody_rewrites(office: str, statement: str, who: str) -> None:
    rows = entries(3)
    push(office, "crew1", rows)
    with psycopg.connect(f"{office} user={who}", autocommit=True) as connection:
        try:
            connection.execute(statement.encode())
        except psycopg.Error:
            pass
        else:  # a crew that sees nothing has nothing to change
            assert who == "crew2" and "FROM rodside.entries" in statement
    assert held(office, "crew1", rows[0].hash) == rows
    with store.connect(f"{office} user=reader") as connection:
        assert [(book.crew, book.entries) for book in store.books(connection)] == [("crew1", 3)]


@pytest.mark.parametrize("statement", ["UPDATE rodside.entries SET written = ''", "TRUNCATE rodside.books CASCADE"])
def test_even_the_owner_does_not_rewrite_by_mistake(office: str, statement: str) -> None:
    push(office, "crew1", entries(3))
    with psycopg.connect(f"{office} user=owner") as connection, pytest.raises(psycopg.errors.IntegrityError):
        connection.execute(statement.encode())


def test_an_office_that_is_not_there_is_told_and_tried_again(office: str, monkeypatch: pytest.MonkeyPatch) -> None:
    tries = count()

    def never() -> psycopg.Connection:  # type: ignore[type-arg]
        next(tries)
        return store.connect("host=/nowhere user=crew1")

    with pytest.raises(Unreachable, match="does not answer"):
        store.push(entries(2), "day", never, wait=0.0001)
    assert next(tries) == store.TRIES


CREWS, SIZE = int(os.environ.get("RODSIDE_CREWS", "8")), int(os.environ.get("RODSIDE_ENTRIES", "3000"))


A_CUT = 200
"""Entries that arrive before a connection is cut again."""


def test_nothing_is_lost_or_doubled_when_connections_are_cut(server: str, capsys: pytest.CaptureFixture[str]) -> None:
    """Every crew pushes at once, while connections are ended at random: one for so many entries, not by the clock."""
    name = f"cut_{time.monotonic_ns()}"
    with psycopg.connect(f"{server} user=owner dbname=postgres", autocommit=True) as connection:
        connection.execute(f"CREATE DATABASE {name}")
    office = f"{server} dbname={name}"
    with store.connect(f"{office} user=owner") as connection:
        store.prepare(connection)
        for crew in range(CREWS):
            connection.execute(f"DROP ROLE IF EXISTS gang{crew}".encode())
            connection.execute(f"CREATE ROLE gang{crew} LOGIN IN ROLE rodside_crew".encode())
    all_done, cuts = threading.Event(), 0

    def cut() -> None:
        nonlocal cuts
        dice, seen = random.Random(2), 0
        with psycopg.connect(f"{office} user=owner", autocommit=True) as connection:
            while not all_done.wait(0.02):
                (arrived,) = connection.execute("SELECT count(*) FROM rodside.entries").fetchone() or (0,)
                if arrived < seen + A_CUT:
                    continue
                seen = arrived
                query = "SELECT pid FROM pg_stat_activity WHERE usename LIKE 'gang%' AND datname = current_database()"
                pids = [pid for (pid,) in connection.execute(query)]
                if pids:
                    connection.execute("SELECT pg_terminate_backend(%s)", (dice.choice(pids),))
                    cuts += 1

    def one(crew: int) -> int:
        return push(office, f"gang{crew}", entries(SIZE, seed=crew))

    cutter = threading.Thread(target=cut)
    cutter.start()
    began = time.perf_counter()
    with ThreadPoolExecutor(max_workers=16) as pool:
        sent = list(pool.map(one, range(CREWS)))
    spent = time.perf_counter() - began
    all_done.set()
    cutter.join()
    assert cuts > SIZE * CREWS / A_CUT / 10
    assert sent == [SIZE] * CREWS
    with store.connect(f"{office} user=owner") as connection:
        (total, distinct) = connection.execute(
            "SELECT count(*), count(DISTINCT (book, sequence)) FROM rodside.entries"
        ).fetchone() or (0, 0)
    assert total == distinct == SIZE * CREWS
    for crew in random.Random(1).sample(range(CREWS), min(CREWS, 5)):
        rows = entries(SIZE, seed=crew)
        assert held(office, f"gang{crew}", rows[0].hash, f"gang{crew}") == rows
        assert push(office, f"gang{crew}", rows) == 0
    with capsys.disabled():
        print(
            f"  {total} entries of {CREWS} crews in {spent:.1f} s, {total / spent:.0f} a second, {cuts} cuts", end=" "
        )
    with psycopg.connect(f"{server} user=owner dbname=postgres", autocommit=True) as connection:
        connection.execute(f"DROP DATABASE {name} WITH (FORCE)")
        for crew in range(CREWS):
            connection.execute(f"DROP ROLE gang{crew}")


DAY = [
    "rod in feet and inches", "baseline four foot two at station zero", "confirm", "reading four foot six at ten",
    "check baseline four foot two", "reading four foot seven at twenty", "reading four foot nine at thirty",
    "scratch that", "reading four foot eight at thirty", "check baseline four foot three",
    "reading four foot eleven at station forty", "baseline four foot three at station zero", "confirm",
    "reading five foot at station fifty",
]  # fmt: skip


def worked(path: Path, utterances: list[str], began: datetime) -> list[Row]:
    minutes = count()
    with Book.open(path, lambda: began + timedelta(seconds=next(minutes))) as book:
        session = Session(book)
        session.begin()
        for text in utterances:
            session.utterance([text])
        return list(book.rows())


def rodside(*arguments: object) -> tuple[int, str]:
    world = Environment(stdin=io.StringIO(), stdout=io.StringIO(), stderr=io.StringIO())
    status = cli.main([str(argument) for argument in arguments], world)
    return status, world.stdout.getvalue() + world.stderr.getvalue()  # type: ignore[attr-defined]


def test_the_view_of_unproven_readings_is_that_of_the_books(office: str, tmp_path: Path) -> None:
    now = datetime.now(UTC)
    fresh = worked(tmp_path / "fresh.rodside", DAY, now - timedelta(days=1))
    old = worked(tmp_path / "old.rodside", DAY, now - timedelta(days=30))
    sound = worked(tmp_path / "sound.rodside", DAY[:4], now - timedelta(days=2))
    for crew, path in (("crew1", "fresh"), ("crew2", "old"), ("crew1", "sound")):
        assert rodside("push", f"{office} user={crew}", tmp_path / f"{path}.rodside")[0] == ExitStatus.OK
    scratched = {int(row.payload["sequence"]) for row in fresh if row.kind == "scratch"}
    expected = sorted(unproven(row for row in fresh if row.sequence not in scratched))
    assert len(expected) == 3
    with store.connect(f"{office} user=reader") as connection:
        week, ever = store.unproven(connection, 7), store.unproven(connection, 365)
    assert [(one.crew, one.name, one.sequence) for one in week] == [("crew1", "fresh", n) for n in expected]
    assert len(ever) == 6
    assert unproven(sound) == set() and len(old) == len(fresh)
    status, told = rodside("pull", f"{office} user=reader", "--unproven")
    assert status == ExitStatus.OK and told.count("\n") == 3
    assert rodside("pull", f"{office} user=crew2", "--unproven")[1] == ""


def test_books_come_back_as_they_were_and_grow(office: str, tmp_path: Path) -> None:
    path = tmp_path / "day.rodside"
    rows = worked(path, DAY[:6], datetime.now(UTC))
    assert rodside("push", f"{office} user=crew1", path)[1].endswith(f"{len(rows)} of {len(rows)} entries sent.\n")
    assert rodside("push", f"{office} user=crew1", path)[1].endswith("the office has it all.\n")
    folder = tmp_path / "brought"
    assert rodside("pull", f"{office} user=reader", "-d", folder)[0] == ExitStatus.OK
    (copy,) = folder.rglob("*.rodside")
    assert copy.parent.name == "crew1"
    with Book.open(path) as book:
        session = Session(book)
        session.utterance(["reading four foot nine at thirty"])
        grown = list(book.rows())
    rodside("push", f"{office} user=crew1", path)
    assert "1 entries brought" in rodside("pull", f"{office} user=reader", "-d", folder)[1]
    with Book.open(copy, read_only=True) as book:
        assert list(book.rows()) == grown
        assert list(findings(book.rows())) == []


def test_names_lead_to_no_other_folder(office: str, tmp_path: Path) -> None:
    push(office, "crew1", entries(2), name="../../../out/side")
    folder = tmp_path / "brought"
    assert rodside("pull", f"{office} user=reader", "-d", folder)[0] == ExitStatus.OK
    (copy,) = tmp_path.rglob("*.rodside")
    assert folder in copy.parents


def test_an_office_that_was_not_prepared_is_told(server: str, tmp_path: Path) -> None:
    path = tmp_path / "day.rodside"
    worked(path, DAY[:2], datetime.now(UTC))
    status, told = rodside("push", f"{server} user=owner dbname=postgres", path)
    assert status == ExitStatus.BOOK and "does not let you" in told
    status, told = rodside("push", "host=/nowhere user=x", path)
    assert status == ExitStatus.BOOK and "does not answer" in told
