"""A crew that lies to the office spoils nothing but its own books, and an office that lies spoils no folder."""

import hashlib
import io
import json
import random
import re
from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import Any

import psycopg
import pytest

from assistant.book.entries import FIRST_PREVIOUS, Entry, Row, chain_hash
from assistant.book.export import to_jsonl
from assistant.book.store import Book
from assistant.book.verify import findings
from assistant.environment import ExitStatus
from assistant.office import store
from assistant.office.errors import AnotherHistory
from assistant.office.texts import row_of, text_of
from assistant.report.ledger import unproven
from tests.store.test_office import DAY, entries, held, push, rodside, worked

TIME = "2026-05-04T07:00:00.000001Z"
BEFORE = Path(__file__).with_name("office_before.sql")


def fields(
    number: object = 1,
    time: object = TIME,
    kind: object = "reading",
    payload: object = "{}",
    heard: object = None,
    reply: object = "ok",
    previous: object = FIRST_PREVIOUS,
) -> list[Any]:
    return [number, time, kind, payload, heard, "typed", None, reply, previous]


def text(*parts: Any) -> str:
    return json.dumps(parts, separators=(",", ":"), ensure_ascii=False)


def arrives(connection: psycopg.Connection[Any], written: str, book: str | None = None) -> bool:
    """Whether a crew gets a text in, as a book of its own or into the one it names."""
    book = book or chain_hash_of(written)
    try:
        with connection.transaction():
            connection.execute(
                "INSERT INTO rodside.books (book, name) VALUES (%s, 'x') ON CONFLICT DO NOTHING", (book,)
            )
            connection.execute("INSERT INTO rodside.entries (book, written) VALUES (%s, %s)", (book, written))
    except (psycopg.Error, UnicodeEncodeError):
        return False
    return True


def chain_hash_of(written: str) -> str:
    return hashlib.sha256(written.encode("utf-8", "surrogatepass")).hexdigest()


def test_the_text_is_what_the_chain_hashes() -> None:
    for row in entries(3, odd=True):
        assert chain_hash_of(text_of(row)) == row.hash
        assert row_of(text_of(row)) == row


LIES: dict[str, tuple[object, str]] = {
    "sequence": (2, "bigint"),
    "time": ("infinity", "timestamptz"),
    "kind": ("check", "text"),
    "payload": ('{"holds": true}', "jsonb"),
    "reply": ("all is well", "text"),
    "previous": ("0", "text"),
    "hash": ("f" * 64, "text"),
}


@pytest.mark.parametrize("column", LIES)
def test_no_column_can_be_said_beside_the_text(office: str, column: str) -> None:
    (row,) = entries(1)
    value, _ = LIES[column]
    with psycopg.connect(f"{office} user=crew2", autocommit=True) as connection:
        connection.execute("INSERT INTO rodside.books (book, name) VALUES (%s, 'x')", (row.hash,))
        true: dict[str, object] = {
            "sequence": 1, "time": row.time, "kind": row.kind, "payload": row.payload_text, "reply": row.reply,
            "previous": row.previous, "hash": row.hash, "book": row.hash, "written": text_of(row),
        }  # fmt: skip
        said = true | {column: value}
        marks = ", ".join(f"%s::{LIES[name][1]}" if name in LIES else "%s" for name in said)
        with pytest.raises(psycopg.Error):
            connection.execute(f"INSERT INTO rodside.entries ({', '.join(said)}) VALUES ({marks})", [*said.values()])
        assert connection.execute("SELECT count(*) FROM rodside.entries").fetchone() == (0,)


@pytest.mark.parametrize(
    "written",
    [
        text(*fields("oops")), text(*fields(0)), text(*fields(2)), text(*fields(True)), text(*fields(10**20)),
        text(*fields(time="infinity")), text(*fields(time="2026-02-30T07:00:00.000000Z")), text(*fields(time=None)),
        text(*fields(time="9999-01-01T00:00:00.000000Z")), text(*fields(time="2026-05-04")),
        text(*fields(time="2026-05-04T24:00:00.000000Z")), text(*fields(time="2026-05-04T07:00:60.000000Z")),
        text(*fields(kind="")), text(*fields(kind="x" * 61)), text(*fields(kind="a\nb")), text(*fields(kind=7)),
        text(*fields(payload="[]")), text(*fields(payload="no JSON")), text(*fields(payload={})),
        text(*fields(payload="{}" * 2)), text(*fields(payload='{"a":1e999999}')), text(*fields(reply=None)),
        text(*fields(payload='{"a":' * 100_000)), text(*fields(reply="x" * 1_100_000)),
        text(*fields(kind="scratch", payload='{"sequence":"oops"}')), text(*fields(kind="check")),
        text(*fields(kind="scratch")), text(*fields(kind="check", payload='{"holds":"maybe"}')),
        text(*fields(), None), text(*fields()[:-1]), text(*fields(previous="f" * 64)), text(),
        json.dumps(fields()), json.dumps(fields(reply="½")).replace(", ", ","), text(*fields()) + "\n",
        text(*fields(reply="x")).replace("x", "\\/"), text(*fields(reply="x")).replace("x", "\\u000a"),
        text(*fields(reply="x")).replace("x", "\n"), "{}", "", "null",
    ],
)  # fmt: skip
def test_what_is_no_entry_does_not_arrive(office: str, written: str) -> None:
    with psycopg.connect(f"{office} user=crew2", autocommit=True) as connection:
        assert not arrives(connection, written)


def test_a_stranger_cannot_take_the_place_of_a_book(office: str) -> None:
    rows = entries(3)
    with psycopg.connect(f"{office} user=crew2", autocommit=True) as connection:
        connection.execute("INSERT INTO rodside.books (book, name) VALUES (%s, 'mine')", (rows[0].hash,))
        assert not arrives(connection, text_of(entries(1, seed=5)[0]), rows[0].hash)
        assert arrives(connection, text_of(rows[0]), rows[0].hash)
    assert push(office, "crew1", rows) == 3
    assert held(office, "reader", rows[0].hash) == rows
    assert held(office, "reader", rows[0].hash, "crew2") == rows[:1]
    with store.connect(f"{office} user=reader") as connection:
        assert [(one.crew, one.name, one.entries) for one in store.books(connection)] == [
            ("crew1", "day", 3),
            ("crew2", "mine", 1),
        ]


@pytest.mark.parametrize(
    "statement",
    [
        "INSERT INTO rodside.books (book, name) VALUES ('/../../z', 'x')",
        f"INSERT INTO rodside.books (book, name) VALUES ('{'a' * 64}', '{'x' * 400}')",
        f"INSERT INTO rodside.books (book, name) VALUES ('{'a' * 64}', E'a\\tb')",
        f"INSERT INTO rodside.books (book, name) VALUES ('{'a' * 64}', U&'a\\202Eb')",
        f"INSERT INTO rodside.books (book, name) VALUES ('{'a' * 64}', '')",
        f"INSERT INTO rodside.books (book, name, pushed) VALUES ('{'a' * 64}', 'x', 'infinity')",
        f"SET ROLE rodside_crew; INSERT INTO rodside.books (book, name) VALUES ('{'a' * 64}', 'x')",
        "INSERT INTO rodside.left_out (crew, book, name, why) VALUES ('crew1', 'x', 'x', 'x')",
    ],
)
def test_no_book_has_a_name_that_leads_astray(office: str, statement: str) -> None:
    with psycopg.connect(f"{office} user=crew2", autocommit=True) as connection, pytest.raises(psycopg.Error):
        connection.execute(statement.encode())


def test_a_long_name_is_cut_and_comes_back(office: str, tmp_path: Path) -> None:
    rows = entries(2)
    assert push(office, "crew1", rows, "½\n" * 200) == 2
    assert rodside("pull", f"{office} user=reader", "-d", tmp_path)[0] == ExitStatus.OK
    (copy,) = tmp_path.rglob("*.rodside")
    with Book.open(copy, read_only=True) as book:
        assert list(book.rows()) == rows


def test_an_entry_that_was_changed_is_not_sent(office: str) -> None:
    rows = entries(5)
    with pytest.raises(AnotherHistory, match="was changed"):
        push(office, "crew1", [*rows[:4], rows[4]._replace(reply="other")])
    with pytest.raises(AnotherHistory, match="only grows"):
        push(office, "crew1", [*rows[:3], rows[3]._replace(reply="other"), rows[4]])
    assert held(office, "reader", rows[0].hash) == []


def test_names_of_ones_own_turn_nothing_round(office: str) -> None:
    """Where a crew may make functions in `public`, they take the place of PostgreSQL's for nobody but itself."""
    rows = entries(2)
    with psycopg.connect(f"{office} user=owner", autocommit=True) as connection:
        connection.execute("GRANT CREATE ON SCHEMA public TO PUBLIC")
    with psycopg.connect(f"{office} user=crew2", autocommit=True) as connection:
        for kind in ("smallint", "integer", "bigint"):
            connection.execute(
                f"CREATE FUNCTION public.make_interval(days {kind}) RETURNS interval LANGUAGE plpgsql AS "
                "'BEGIN RAISE ''taken''; END'".encode()
            )
        connection.execute("CREATE FUNCTION public.never(text, text) RETURNS boolean RETURN false")
        connection.execute("CREATE OPERATOR public.<> (LEFTARG = text, RIGHTARG = text, FUNCTION = public.never)")
        connection.execute("SET search_path = public, pg_catalog")
        assert arrives(connection, text_of(rows[0]))
        assert not arrives(connection, text_of(rows[1]._replace(previous="f" * 64)), rows[0].hash)
        assert not arrives(connection, text_of(rows[1]._replace(sequence=3)), rows[0].hash)
    assert rodside("pull", f"{office} user=reader", "--unproven") == (ExitStatus.OK, "")


def test_a_reply_stays_on_its_line(office: str) -> None:
    now = datetime.now(UTC).strftime("%Y-%m-%dT%H:%M:%S.000000Z")
    chain: list[str] = []
    for kind, payload, reply in (
        ("reading", "{}", "ok\n\x1b[2Jcrew1\tday\u202e\0"),
        ("check", '{"holds":false}', "bad"),
    ):
        previous = chain_hash_of(chain[-1]) if chain else FIRST_PREVIOUS
        chain.append(text(*fields(len(chain) + 1, now, kind, payload, None, reply, previous)))
    with psycopg.connect(f"{office} user=crew2", autocommit=True) as connection:
        assert all(arrives(connection, one, chain_hash_of(chain[0])) for one in chain)
    status, told = rodside("pull", f"{office} user=reader", "--unproven")
    assert status == ExitStatus.OK
    assert told.count("\n") == 1 and told.count("\t") == 4 and told.rstrip("\n").replace("\t", "").isprintable()


def lying_office(server_of: str, tables: list[tuple[object, object, object, list[object]]]) -> None:
    """An office without a rule, which answers what it likes."""
    with psycopg.connect(f"{server_of} user=owner") as connection:
        connection.execute("DROP SCHEMA rodside CASCADE")
        connection.execute("CREATE SCHEMA rodside")
        connection.execute("CREATE TABLE rodside.books (crew text, book text, name text)")
        connection.execute("CREATE TABLE rodside.entries (crew text, book text, sequence bigint, written text)")
        connection.execute("CREATE TABLE rodside.left_out (crew text, book text, name text, why text)")
        for crew, book, name, texts in tables:
            connection.execute("INSERT INTO rodside.books VALUES (%s, %s, %s)", (crew, book, name))
            for number, written in enumerate(texts, 1):
                connection.execute("INSERT INTO rodside.entries VALUES (%s, %s, %s, %s)", (crew, book, number, written))
        connection.execute("GRANT USAGE ON SCHEMA rodside TO PUBLIC")
        connection.execute("GRANT SELECT ON ALL TABLES IN SCHEMA rodside TO PUBLIC")


def test_pull_trusts_no_answer_and_goes_on(office: str, tmp_path: Path) -> None:
    honest, cut, forged, later = entries(4), entries(4, seed=1), entries(4, seed=2), entries(4, seed=3)
    texts = [text_of(row) for row in honest]
    deep = text(*fields(payload='{"a":' * 3000 + "1" + "}" * 3000))
    floating = text(*fields(payload='{"a":1.5}'))
    bad: list[tuple[object, object, object, list[object]]] = [
        ("crew", "/../../z", "x", list(texts)),
        ("crew", "", "x", list(texts)),
        ("crew", "Z" * 64, "x", list(texts)),
        ("crew", honest[0].hash + "\n", "x", list(texts)),
        ("crew", cut[0].hash, "missing", [text_of(row) for row in (cut[0], cut[2])]),
        ("crew", "b" * 64, "of another", list(texts)),
        ("crew", forged[0].hash, "forged", [text_of(forged[0]), text_of(forged[1]._replace(previous="f" * 64))]),
        ("crew", later[0].hash, "nothing", [None]),
        ("crew", chain_hash_of(deep), "deep", [deep]),
        ("crew", chain_hash_of(floating), "floating", [floating]),
        ("crew", chain_hash_of(json.dumps(fields())), "spaced", [json.dumps(fields())]),
        ("crew", "c" * 64, "\x1b[2J", ["[1]"]),
    ]
    good: list[tuple[object, object, object, list[object]]] = [
        (crew, honest[0].hash, name, list(texts))
        for crew, name in (("a", "day"), ("../..", "../../z"), ("/etc", "x" * 400), ("..", ".."), ("zz", "½" * 100))
    ]
    lying_office(office, bad + good)
    folder = tmp_path / "in" / "brought"
    status, told = rodside("pull", f"{office} user=owner", "-d", folder)
    assert status == ExitStatus.BOOK
    assert told.count("Left out: ") == len(bad)
    assert "\x1b" not in told
    copies = list(tmp_path.rglob("*.rodside"))
    assert len(copies) == len(good) and all(copy.parent.parent == folder for copy in copies)
    assert not list(Path(tmp_path.parent).glob("z*"))
    for copy in copies:
        with Book.open(copy, read_only=True) as book:
            assert list(book.rows()) == honest
    assert told.count("4 entries brought") == len(good)
    again = rodside("pull", f"{office} user=owner", "-d", folder)[1]
    assert again.count("0 entries brought") == len(good)


def test_a_copy_of_another_book_is_left_as_it_is(office: str, tmp_path: Path) -> None:
    rows = entries(3)
    push(office, "crew1", rows)
    push(office, "crew2", entries(2, seed=4))
    path = tmp_path / "crew1" / f"day-{rows[0].hash[:8]}.rodside"
    path.parent.mkdir()
    with Book.open(path) as book:
        book.restore(entries(2, seed=7))
    status, told = rodside("pull", f"{office} user=reader", "-d", tmp_path)
    assert status == ExitStatus.BOOK and "holds another book" in told and "2 entries brought" in told
    with Book.open(path, read_only=True) as book:
        assert list(book.rows()) == entries(2, seed=7)


def test_a_copy_that_went_another_way_is_told(office: str, tmp_path: Path) -> None:
    rows = entries(3)
    push(office, "crew1", rows)
    path = tmp_path / "crew1" / f"day-{rows[0].hash[:8]}.rodside"
    path.parent.mkdir()
    with Book.open(path) as book:
        book.restore(entries(4))
    status, told = rodside("pull", f"{office} user=reader", "-d", tmp_path)
    assert status == ExitStatus.BOOK and "fewer entries than here" in told
    path.unlink()
    with Book.open(path) as book:
        book.restore(rows[:2])
        book.append([Entry("opened", {})], heard=None, engine=None, audio=None, reply="")
    status, told = rodside("pull", f"{office} user=reader", "-d", tmp_path)
    assert status == ExitStatus.BOOK and "entry 3 is another than here" in told


def put_before(address: str, crew: str, rows: list[Row], book: str, name: str, **lies: object) -> None:
    """What an older version sent, or lied."""
    with psycopg.connect(f"{address} user={crew}") as connection:
        connection.execute("INSERT INTO rodside.books (book, name) VALUES (%s, %s)", (book, name))
        for row in rows:
            stream = io.StringIO()
            to_jsonl([row], stream)
            said = {
                "sequence": row.sequence, "time": row.time, "kind": row.kind, "payload": row.payload_text,
                "reply": row.reply, "previous": row.previous, "hash": row.hash,
                "written": stream.getvalue().rstrip("\n"),
            } | lies  # fmt: skip
            marks = ", ".join("%s::jsonb" if name == "payload" else "%s" for name in said)
            connection.execute(
                f"INSERT INTO rodside.entries (book, {', '.join(said)}) VALUES (%s, {marks})".encode(),
                [book, *said.values()],
            )


def test_an_office_of_before_is_brought_up_to_date(server: str, office: str, tmp_path: Path) -> None:
    day = worked(tmp_path / "day.rodside", DAY, datetime.now(UTC) - timedelta(days=1))
    squatted = entries(3, seed=1)
    with psycopg.connect(f"{office} user=owner") as connection:
        connection.execute("DROP SCHEMA rodside CASCADE")
        connection.execute(BEFORE.read_bytes())
    put_before(office, "crew1", day, day[0].hash, "day")
    long = entries(2, seed=2)
    put_before(office, "crew2", long, long[0].hash, "x" * 400)
    put_before(office, "crew2", [], squatted[0].hash, "mine")
    lied = entries(2, seed=3)
    put_before(office, "crew2", lied, lied[0].hash, "lied", kind="check", payload='{"holds": true}', time="infinity")
    first = entries(1, seed=4)
    put_before(office, "crew2", first, first[0].hash, "no entry", written="oops", payload='{"sequence": "oops"}')
    put_before(office, "crew2", [first[0]._replace(hash="/../../z")], "/../../z", "astray")
    path = tmp_path / "squatted.rodside"
    with Book.open(path) as book:
        book.restore(squatted)
    status, told = rodside("push", f"{office} user=crew1", path)
    assert status == ExitStatus.BOOK and "version" in told

    for _ in range(2):
        status, told = rodside("push", f"{office} user=owner", "--prepare")
        assert status == ExitStatus.OK and "The office is ready" in told
        assert held(office, "reader", day[0].hash) == day
        assert held(office, "reader", long[0].hash, "crew2") == long
        assert held(office, "reader", lied[0].hash, "crew2") == lied  # the text, not what was said beside it
        with store.connect(f"{office} user=reader") as connection:
            assert [one.name for one in store.left_out(connection)] == ["astray", "no entry"]
            assert len(store.unproven(connection, 7)) == 3
            count = connection.execute("SELECT count(*) FROM rodside_before.entries").fetchone()
            assert count == (len(day) + 6,)  # what came before is there, as it was
    for who, seen in (("crew1", 0), ("crew2", 2), ("reader", 2)):
        status, told = rodside("pull", f"{office} user={who}", "-d", tmp_path / who)
        assert told.count("Left out") == seen and status == (ExitStatus.BOOK if seen else ExitStatus.OK)
    status, told = rodside("pull", f"{office} user=reader", "--unproven")
    assert status == ExitStatus.BOOK and told.count("Left out") == 2 and told.count("\tday\t") == 3
    assert rodside("push", f"{office} user=crew1", path)[0] == ExitStatus.OK
    assert held(office, "reader", squatted[0].hash) == squatted
    assert push(office, "crew2", first) == 1  # sent again, a book that was left out is in
    with store.connect(f"{office} user=reader") as connection:
        assert [one.name for one in store.left_out(connection)] == ["astray"]
    with psycopg.connect(f"{office} user=crew2") as connection, pytest.raises(psycopg.errors.InsufficientPrivilege):
        connection.execute("INSERT INTO rodside_before.books (book, name) VALUES ('x', 'x')")


ROUNDS = 600

POISON: list[Any] = [
    "oops", None, True, -1, 0, 1, 2, 2**63, 10**30, 1.5, [], {}, "", "infinity", "-infinity", "x" * 400, "a\0b",
    "\ud800",
    "\x1b[2J", "a\tb\nc", "/../../z", "'; DROP TABLE rodside.books; --", "\\", '"', "\u202e", TIME, FIRST_PREVIOUS,
    "f" * 64, "9999-12-31T23:59:59.999999Z", "0000-01-01T00:00:00.000000Z", "2026-05-04T24:00:00.000000Z", "scratch",
    "check", "reading", "baseline", '{"holds":true}', '{"holds":false}', '{"holds":"maybe"}', '{"sequence":"oops"}',
    '{"sequence":1}', '{"sequence":1.5}', '{"sequence":99999999999999999999}', '{"a":"\\u0000\\ud800"}', '{"a":NaN}',
    '{"a":1,"a":2}', '{ "a" : 1 }', "[" * 500, "{}", "nan", "½",
]  # fmt: skip

SETTINGS = [
    "SET standard_conforming_strings = off", "SET datestyle = 'SQL, DMY'", "SET timezone = 'Asia/Tokyo'",
    "SET timezone_abbreviations = 'India'", "SET search_path = pg_temp, public", "SET row_security = off",
    "SET session_replication_role = replica", "SET ROLE rodside_crew", "SET ROLE rodside_office",
    "SET client_encoding = 'LATIN1'",
    "SET default_transaction_isolation = 'serializable'", "SET bytea_output = 'escape'",
]  # fmt: skip

STATEMENTS = [
    "INSERT INTO rodside.entries (book, written) VALUES (%(book)s, %(written)s)",
    "INSERT INTO rodside.entries (book, written) VALUES (%(book)s, %(written)s) ON CONFLICT DO NOTHING",
    "INSERT INTO rodside.entries (crew, book, written) VALUES ('crew1', %(book)s, %(written)s)",
    "INSERT INTO rodside.entries (book, written, payload) VALUES (%(book)s, %(written)s, '{}')",
    "INSERT INTO rodside.entries OVERRIDING USER VALUE VALUES "
    "('crew1', %(book)s, %(written)s, '', 1, 'infinity', 'check', '{\"holds\": true}', '', '')",
    "INSERT INTO rodside.entries (book, written) SELECT book, %(written)s FROM rodside.books",
    "INSERT INTO rodside.entries (book, written) SELECT %(book)s, written FROM rodside.entries",
    "MERGE INTO rodside.entries e USING rodside.books b ON false "
    "WHEN NOT MATCHED THEN INSERT (book, written) VALUES (b.book, %(written)s)",
    "WITH a AS (INSERT INTO rodside.entries (book, written) VALUES (%(book)s, %(written)s) RETURNING hash) "
    "INSERT INTO rodside.books (book, name) SELECT hash, %(poison)s FROM a",
    "INSERT INTO rodside.books (book, name) VALUES (%(poison)s, 'x')",
    "INSERT INTO rodside.books (book, name) VALUES (%(book)s, %(poison)s)",
    "INSERT INTO rodside.books (book, name, crew) VALUES (%(book)s, 'x', 'crew1')",
    "UPDATE rodside.entries SET written = %(written)s",
    "UPDATE rodside.books SET crew = 'crew1'",
    "DELETE FROM rodside.entries",
    "CREATE RULE r AS ON SELECT TO rodside.books DO INSTEAD NOTHING",
    "CREATE TEMP TABLE entries AS SELECT 1; CREATE TEMP TABLE books AS SELECT 1",
]


class Hostile:
    """Mutated inserts of a crew, that go on from what the office took of it."""

    def __init__(self, seed: int, known: list[Row]) -> None:
        self.dice = random.Random(seed)
        self.known = known
        self.chains: list[list[str]] = [[]]

    def attack(self) -> tuple[str, dict[str, Any], list[str]]:
        dice = self.dice
        chain = dice.choice(self.chains) if dice.random() < 0.8 else []
        parts = fields(len(chain) + 1, previous=chain_hash_of(chain[-1]) if chain else FIRST_PREVIOUS)
        parts[7] = f"reply {dice.random()}"
        if dice.random() < 0.5:
            parts[2], parts[3] = dice.choice(
                [
                    ("scratch", '{"sequence":1}'),
                    ("check", '{"holds":false}'),
                    ("baseline", "{}"),
                    ("reading", '{"a":1.5}'),
                ]
            )
        for _ in range(dice.choice([0, 0, 1, 1, 2])):
            parts[dice.randrange(9)] = dice.choice(POISON)
        written = json.dumps(parts, separators=dice.choice([(",", ":")] * 9 + [(", ", ": ")]), ensure_ascii=False)
        if dice.random() < 0.2:
            place = dice.randrange(len(written))
            written = written[:place] + dice.choice('\\"[],0 \n\x01½') + written[place + dice.randrange(2) :]
        book = chain_hash_of(chain[0] if chain else written)
        if dice.random() < 0.1:
            book = dice.choice([self.known[0].hash, "/../../z", "", "f" * 64])
            written = dice.choice([written, text_of(self.known[0])])
        values = {"book": book, "written": written, "poison": str(dice.choice(POISON))}
        return STATEMENTS[0] if dice.random() < 0.5 else dice.choice(STATEMENTS), values, chain

    def run(self, connection: psycopg.Connection[Any]) -> tuple[int, int]:
        took = refused = 0
        for _ in range(ROUNDS):
            statement, values, chain = self.attack()
            tries = [("INSERT INTO rodside.books (book, name) VALUES (%(book)s, 'x')", values), (statement, values)]
            if self.dice.random() < 0.2:
                tries = [(self.dice.choice(SETTINGS), {}), *tries, ("RESET ALL", {}), ("RESET ROLE", {})]
            for query, said in tries:
                used = {name: value for name, value in said.items() if f"%({name})s" in query}
                try:
                    done = connection.execute(query.encode(), used or None).rowcount
                except (psycopg.Error, UnicodeEncodeError):
                    refused += 1
                    continue
                if query == STATEMENTS[0] and done == 1:
                    took += 1
                    if chain:
                        chain.append(values["written"])
                    else:
                        self.chains.append([values["written"]])
        return took, refused


@pytest.mark.parametrize("seed", [1, 2])
def test_a_hostile_crew_spoils_nothing_of_others(office: str, tmp_path: Path, seed: int) -> None:
    path = tmp_path / "day.rodside"
    day = worked(path, DAY, datetime.now(UTC) - timedelta(days=1))
    other = entries(30, seed=8, odd=True)
    push(office, "crew2", other)
    with psycopg.connect(f"{office} user=crew3", autocommit=True) as connection:
        took, refused = Hostile(seed, day).run(connection)
    assert took > 50 and refused > ROUNDS // 2
    assert rodside("push", f"{office} user=crew1", path)[0] == ExitStatus.OK

    books: dict[tuple[str, str], list[Row]] = {}
    with psycopg.connect(f"{office} user=owner") as connection:
        query = (
            "SELECT crew, book, written, hash, sequence, kind, reply, previous, payload, "
            """to_char(time AT TIME ZONE 'UTC', 'YYYY-MM-DD"T"HH24:MI:SS.US"Z"') """
            "FROM rodside.entries ORDER BY crew, book, sequence"
        )
        for crew, book, written, *columns, payload, time in connection.execute(query):
            said = json.loads(written)
            row = Row(*said, hash=chain_hash(*said))
            assert text(*said) == written
            assert columns == [row.hash, row.sequence, row.kind, plain(row.reply), row.previous]
            assert payload == json.loads(plain(row.payload_text.replace("\\u0000", "\0").replace("\\ud800", "\ud800")))
            assert time == row.time
            books.setdefault((crew, book), []).append(row)
        names = connection.execute("SELECT book, name FROM rodside.books").fetchall()
    assert {crew for crew, _ in books} == {"crew1", "crew2", "crew3"}
    assert sum(len(rows) for (crew, _), rows in books.items() if crew == "crew3") >= took
    for (_, book), rows in books.items():
        assert rows[0].hash == book and list(findings(rows)) == []
    assert all(re.fullmatch("[0-9a-f]{64}", book) and len(name) <= 100 for book, name in names)

    scratched = {int(row.payload["sequence"]) for row in day if row.kind == "scratch"}
    expected = sorted(unproven(row for row in day if row.sequence not in scratched))
    with store.connect(f"{office} user=reader") as connection:
        for days in (7, 36500):
            told = [(one.crew, one.sequence) for one in store.unproven(connection, days) if one.crew != "crew3"]
            assert told == [("crew1", number) for number in expected]
    status, said = rodside("pull", f"{office} user=reader", "--unproven", "--days", "36500")
    assert status == ExitStatus.OK and all(line.count("\t") == 4 for line in said.splitlines())
    for who, honest in (
        ("crew1", {"crew1": day}),
        ("crew2", {"crew2": other}),
        ("reader", {"crew1": day, "crew2": other}),
    ):
        folder = tmp_path / who
        status, said = rodside("pull", f"{office} user={who}", "-d", folder)
        assert all(" of crew3. " in line for line in said.splitlines() if line.startswith("Left out"))
        assert (status == ExitStatus.OK) == ("Left out" not in said)
        assert who == "reader" or status == ExitStatus.OK
        for crew, rows in honest.items():
            (copy,) = (folder / crew).glob("*.rodside")
            with Book.open(copy, read_only=True) as book:
                assert list(book.rows()) == rows
    made = {file.parent.parent.parent for file in tmp_path.rglob("*.rodside") if file.parent != tmp_path}
    assert made == {tmp_path}


def plain(said: str) -> str:
    return said.replace("\0", "\ufffd").replace("\ud800", "\ufffd")
