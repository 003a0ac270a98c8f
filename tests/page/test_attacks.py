"""What strangers and paired phones may try against the page, and what must go on meanwhile."""

from __future__ import annotations

import secrets
import socket
import sqlite3
import ssl
import time
from collections.abc import Iterator
from contextlib import ExitStack, closing, suppress
from pathlib import Path

import pytest
from page.machine import DRAIN, Machine, Phone
from websockets.exceptions import ConnectionClosed, InvalidStatus

from assistant.environment import now
from assistant.page.devices import Devices, Rights
from assistant.page.guard import COOKIE

QUESTION = "how much fall in sixty feet at two percent"


def listen(phone: Phone, ticks: int = 4) -> None:
    """Wait for signs of life, or for the end of the link."""
    for _ in range(ticks):
        phone.next("tick")


def answers(phone: Phone, number: int) -> bool:
    return bool(phone.typed(number, QUESTION)["word"] == "answer")


@pytest.fixture(scope="module")
def machine(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Machine]:
    """One for all: whatever they try, it goes on."""
    one = Machine(tmp_path_factory.mktemp("attacked"), "--quiet")
    one.start()
    yield one
    assert one.stop() == 0
    assert "asyncio" not in one.errors()


def paired(machine: Machine, rights: str = "log", name: str = "phone") -> str:
    """The cookie of a newly paired phone, past the form and its limits."""
    with closing(Devices(devices(machine), now)) as table:
        found = table.pair(table.offer(Rights[rights.upper()]), name)
    assert found is not None
    return f"{COOKIE}={found[0]}"


def revoked(machine: Machine, cookie: str) -> None:
    with closing(Devices(devices(machine), now)) as table:
        device = table.device(cookie.partition("=")[2])
        assert device is not None
        assert table.revoke(device.name)


def written(machine: Machine) -> int:
    with closing(sqlite3.connect(f"file:{machine.book}?mode=ro", uri=True)) as book:
        return int(book.execute("SELECT count(*) FROM entries").fetchone()[0])


def descriptors(machine: Machine) -> int:
    assert machine.process is not None
    return len(list(Path(f"/proc/{machine.process.pid}/fd").iterdir()))


def connected(machine: Machine, source: str) -> socket.socket:
    return socket.create_connection(("127.0.0.1", machine.port), timeout=10, source_address=(source, 0))


def secured(machine: Machine, source: str = "127.0.0.1") -> ssl.SSLSocket:
    return machine.trust().wrap_socket(connected(machine, source), server_hostname="127.0.0.1")


def is_open(one: socket.socket) -> bool:
    one.setblocking(False)
    try:
        return one.recv(4096) != b""
    except (BlockingIOError, ssl.SSLWantReadError):
        return True
    except OSError:
        return False


def devices(machine: Machine) -> Path:
    return machine.folder / "state" / "devices.sqlite"


@pytest.mark.parametrize("text", ["\\ud800", "reading \\udfff at forty", "\\ud83d x"])
def test_half_a_character_ends_one_link_alone(machine: Machine, text: str) -> None:
    ours, bad = paired(machine, "log", "ours"), paired(machine, "log", "bad")
    with machine.phone(ours) as phone:
        with pytest.raises(ConnectionClosed) as closed, machine.phone(bad) as other:
            other.socket.send(f'{{"kind":"typed","number":1,"after":0,"seen":9,"text":"{text}"}}')
            listen(other)
        assert closed.value.rcvd is not None
        assert closed.value.rcvd.code == 1008
        assert answers(phone, 1)
        with machine.phone(bad) as again:
            assert answers(again, 1)
        assert answers(phone, 2)


def test_one_byte_of_the_next_request_holds_no_connection(machine: Machine) -> None:
    held = []
    body = f"GET /who HTTP/1.1\r\nHost: 127.0.0.1:{machine.port}\r\nContent-Length: 9999\r\n\r\n".encode()
    for more in (b"G", b"GET / HTTP/1.1\r\nHost: 127", body):
        one = secured(machine)
        one.send(f"GET /who HTTP/1.1\r\nHost: 127.0.0.1:{machine.port}\r\n\r\n".encode())
        assert b"200" in one.recv(4096)
        one.send(more)
        held.append(one)
    deadline = time.monotonic() + 16
    while time.monotonic() < deadline and any(map(is_open, held)):
        for one in held:
            with suppress(OSError):
                one.send(b"x")
        time.sleep(1)
    assert not any(map(is_open, held))
    for one in held:
        one.close()


def test_bare_connections_are_counted_from_the_first(machine: Machine) -> None:
    ours, before = paired(machine), len(machine.errors())
    with ExitStack() as stack, machine.phone(ours) as phone:
        held = [stack.enter_context(connected(machine, "127.0.0.2")) for _ in range(500)]
        for part in range(3, 33):
            held += [stack.enter_context(connected(machine, f"127.0.0.{part}")) for _ in range(20)]
        assert answers(phone, 1)
        assert descriptors(machine) < 300
        with machine.phone(ours) as other:
            assert answers(other, 1)
        time.sleep(8)
        assert not any(map(is_open, held)), "a handshake has a few seconds"
        assert answers(phone, 2)
    assert len(machine.errors()) - before < 1_000


def test_bad_handshakes_and_heads_write_no_more_than_a_line(machine: Machine) -> None:
    before = len(machine.errors())
    for number in range(30):
        with connected(machine, f"127.0.0.{50 + number % 3}") as one:
            one.send(b"GET / HTTP/1.0\r\n\r\n" if number % 2 else secrets.token_bytes(400))
            with suppress(OSError):
                one.recv(100)
    many = "".join(f"x-{k}: y\r\n" for k in range(200))
    for headers in (many, f"x: {'y' * 9000}\r\n", "sec-websocket-version: 1\r\n", "host: x\r\n", ""):
        with secured(machine) as one:
            one.settimeout(5)
            head = (
                f"GET /link HTTP/1.1\r\nHost: 127.0.0.1:{machine.port}\r\nConnection: upgrade\r\nUpgrade: websocket\r\n"
            )
            one.send(f"{head}{headers}\r\n".encode())
            with suppress(OSError):
                while one.recv(4096):
                    pass
    with machine.phone(paired(machine)) as phone:
        assert answers(phone, 1)
    assert len(machine.errors()) - before < 2_000


def test_a_stranger_does_not_lock_the_owner_out_of_pairing(machine: Machine) -> None:
    with closing(Devices(devices(machine), now)) as table:
        code = table.offer(Rights.LOG)
    for part in range(60, 84):
        with secured(machine, f"127.0.0.{part}") as one:
            for _ in range(5):
                assert b" 303 " not in paired_by_form(machine, one, secrets.token_hex(5))
            assert b" 429 " in paired_by_form(machine, one, "x"), "from one address, few tries"
    with secured(machine) as one:
        assert b" 303 " in paired_by_form(machine, one, code)


def paired_by_form(machine: Machine, one: ssl.SSLSocket, code: str) -> bytes:
    body = f"code={code}&name=x"
    head = f"POST /pair HTTP/1.1\r\nHost: 127.0.0.1:{machine.port}\r\nOrigin: {machine.url}\r\n"
    one.send(f"{head}Content-Length: {len(body)}\r\n\r\n{body}".encode())
    got = one.recv(16_384)
    while b"\r\n\r\n" not in got or (b"</html>" not in got and b" 303 " not in got):
        got += one.recv(16_384)
    return got


def test_sockets_of_one_phone_are_few(machine: Machine) -> None:
    ours, many = paired(machine, "log", "ours"), paired(machine, "view", "many")
    with ExitStack() as stack, machine.phone(ours) as phone:
        held = []
        for _ in range(12):
            with suppress(InvalidStatus, ConnectionClosed):
                held.append(stack.enter_context(machine.phone(many)))
        assert answers(phone, 1)
        alive = 0
        for one in held:
            with suppress(ConnectionClosed):
                one.next("tick")
                one.next("tick")
                alive += 1
        assert 1 <= alive <= 4
        assert held[-1].next("tick"), "the newest is let in: the older ones may be dead"


def test_a_phone_that_pings_without_end_is_let_go(machine: Machine) -> None:
    ours, bad = paired(machine, "log", "ours"), paired(machine, "view", "bad")
    with machine.phone(ours) as phone:
        with machine.phone(bad) as other, pytest.raises(ConnectionClosed):
            for _ in range(5000):
                other.socket.ping()
            listen(other)
        assert answers(phone, 1)


def test_frames_without_a_message_are_counted(machine: Machine) -> None:
    with machine.phone(paired(machine)) as phone, pytest.raises((ConnectionClosed, OSError)):
        empty = b"\x00\x80" + b"\x00" * 4
        phone.socket.socket.sendall(b"\x01\x80" + b"\x00" * 4)
        for _ in range(200):
            phone.socket.socket.sendall(empty * 100)
        listen(phone)


def test_who_is_revoked_writes_nothing_more(machine: Machine) -> None:
    cookie = paired(machine, "log", "lost")
    with machine.phone(cookie) as phone:
        for number, words in enumerate(DRAIN, 1):
            phone.typed(number, words)
        for number in range(6, 46):
            phone.type(number, f"reading three feet nine at station {number}", after=5, seen=1000)
        revoked(machine, cookie)
        count = written(machine)
        with pytest.raises(ConnectionClosed):
            phone.type(100, "reading three feet nine at station forty", after=5, seen=1000)
            listen(phone)
        time.sleep(1)
        assert written(machine) <= count + 1  # the one at work when the right went; dozens more were waiting


def test_a_locked_table_of_phones_ends_nothing(machine: Machine) -> None:
    cookie = paired(machine, "log", "ours")
    with machine.phone(cookie) as phone:
        with closing(sqlite3.connect(devices(machine), isolation_level=None)) as other:
            other.execute("BEGIN EXCLUSIVE")
            began = time.monotonic()
            while time.monotonic() - began < 7:
                phone.next("tick", timeout=4)
            other.execute("ROLLBACK")
        assert answers(phone, 1)
        revoked(machine, cookie)
        with pytest.raises(ConnectionClosed):
            listen(phone)


def test_without_the_table_of_phones_nobody_writes_and_nobody_is_a_stranger(machine: Machine) -> None:
    ours, looks = paired(machine, "log", "ours"), paired(machine, "view", "looks")
    with machine.phone(looks) as viewer, closing(sqlite3.connect(devices(machine), isolation_level=None)) as other:
        with machine.phone(ours) as phone:
            phone.typed(1, "never mind")  # whatever question another test left
            before = written(machine)
            phone.typed(2, "rod in tenths")
            count = written(machine)
            assert count > before
            other.execute("ALTER TABLE devices RENAME TO gone")
            try:
                phone.type(3, "rod in feet and inches")
                with pytest.raises(ConnectionClosed) as closed:
                    listen(phone)
                assert closed.value.rcvd is not None
                assert closed.value.rcvd.code == 1013, "to be tried again"
                with machine.client(ours) as client:
                    assert [client.get(path).status_code for path in ("/", "/who", "/app.js")] == [503] * 3
                listen(viewer, 3)
            finally:
                other.execute("ALTER TABLE gone RENAME TO devices")
        assert written(machine) == count
        with machine.phone(ours) as phone:
            phone.typed(3, "rod in feet and inches", after=2)
            assert written(machine) > count
            revoked(machine, ours)
            with pytest.raises(ConnectionClosed):
                listen(phone)
    assert "no such table" in machine.errors(), "trouble is told"


def test_a_paired_phone_that_asks_too_often_is_told_so(machine: Machine) -> None:
    cookie = paired(machine)
    with machine.client(cookie) as client:
        told = [client.get("/who") for _ in range(200)]
    assert {one.status_code for one in told} == {200, 429}
    assert {one.text for one in told if one.status_code == 200} == {"paired"}
    late = next(one for one in told if one.status_code == 429)
    assert "pair" not in late.text
    assert late.headers["retry-after"]
    with machine.client() as stranger:
        assert stranger.get("/who").text == "stranger", "what one phone uses up is not another's"


def test_lives_of_one_phone_push_no_other_out(machine: Machine) -> None:
    ours, bad = paired(machine, "log", "ours"), paired(machine, "view", "bad")
    life = secrets.token_hex(8)
    with machine.phone(ours, life) as phone:
        phone.tell("begin", number=1, after=0, seen=phone.seen)
        phone.next("tick")
    for _ in range(130):
        try:
            with machine.phone(bad):
                pass
        except (InvalidStatus, ConnectionClosed, OSError):
            time.sleep(0.05)
    with machine.phone(ours, life) as phone:
        assert phone.hello["have"] == {"number": 1, "frames": 0}
