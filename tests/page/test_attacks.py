"""What strangers and paired phones may try against the page, and what must go on meanwhile."""

from __future__ import annotations

import secrets
import socket
import sqlite3
import ssl
import time
from contextlib import ExitStack, closing, suppress
from pathlib import Path

import pytest
from page.machine import DRAIN, Machine, Phone
from websockets.exceptions import ConnectionClosed, InvalidStatus

from assistant.environment import now
from assistant.page.devices import Devices

QUESTION = "how much fall in sixty feet at two percent"


def answers(phone: Phone, number: int) -> bool:
    return bool(phone.typed(number, QUESTION)["word"] == "answer")


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
    ours, bad = machine.pair("log", "ours"), machine.pair("log", "bad")
    with machine.phone(ours) as phone:
        with pytest.raises(ConnectionClosed) as closed, machine.phone(bad) as other:
            other.socket.send(f'{{"kind":"typed","number":1,"after":0,"seen":9,"text":"{text}"}}')
            other.next("never")
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
    ours = machine.pair()
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
    assert len(machine.errors()) < 2_000
    assert machine.errors().count("\n") <= 4


def test_bad_handshakes_and_heads_write_no_more_than_a_line(machine: Machine) -> None:
    for number in range(30):
        with connected(machine, f"127.0.0.{2 + number % 3}") as one:
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
    with machine.phone(machine.pair()) as phone:
        assert answers(phone, 1)
    assert len(machine.errors()) < 2_000


def test_a_stranger_does_not_lock_the_owner_out_of_pairing(machine: Machine) -> None:
    for part in range(2, 12):
        with secured(machine, f"127.0.0.{part}") as one:
            for _ in range(5):
                body = f"code={secrets.token_hex(4)}&name=x"
                head = f"POST /pair HTTP/1.1\r\nHost: 127.0.0.1:{machine.port}\r\nOrigin: {machine.url}\r\n"
                one.send(f"{head}Content-Length: {len(body)}\r\n\r\n{body}".encode())
                assert b"303" not in one.recv(4096)
                time.sleep(0.01)
    assert machine.pair("log", "owner")


def test_sockets_of_one_phone_are_few(machine: Machine) -> None:
    ours, many = machine.pair("log", "ours"), machine.pair("view", "many")
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
    ours, bad = machine.pair("log", "ours"), machine.pair("view", "bad")
    with machine.phone(ours) as phone:
        with machine.phone(bad) as other, pytest.raises(ConnectionClosed):
            for _ in range(5000):
                other.socket.ping()
            other.next("never", timeout=5)
        assert answers(phone, 1)


def test_frames_without_a_message_are_counted(machine: Machine) -> None:
    with machine.phone(machine.pair()) as phone, pytest.raises((ConnectionClosed, OSError)):
        empty = b"\x00\x80" + b"\x00" * 4
        phone.socket.socket.sendall(b"\x01\x80" + b"\x00" * 4)
        for _ in range(200):
            phone.socket.socket.sendall(empty * 100)
        phone.next("never", timeout=5)


def test_who_is_revoked_writes_nothing_more(machine: Machine) -> None:
    with machine.phone(machine.pair("log", "lost")) as phone:
        for number, words in enumerate(DRAIN, 1):
            phone.typed(number, words)
        for number in range(6, 46):
            phone.type(number, f"reading three feet nine at station {number}", after=5, seen=1000)
        with closing(Devices(devices(machine), now)) as table:
            assert table.revoke("lost")
        count = len(machine.entries())
        with pytest.raises(ConnectionClosed):
            phone.type(100, "reading three feet nine at station forty", after=5, seen=1000)
            phone.next("never")
        time.sleep(1)
        assert len(machine.entries()) == count


def test_a_locked_table_of_phones_ends_nothing(machine: Machine) -> None:
    cookie = machine.pair("log", "ours")
    with machine.phone(cookie) as phone:
        with closing(sqlite3.connect(devices(machine), isolation_level=None)) as other:
            other.execute("BEGIN EXCLUSIVE")
            began = time.monotonic()
            while time.monotonic() - began < 7:
                phone.next("tick", timeout=4)
            other.execute("ROLLBACK")
        assert answers(phone, 1)
        machine.beside("--revoke", "ours")
        with pytest.raises(ConnectionClosed):
            for _ in range(5):
                phone.next("tick")


def test_without_the_table_of_phones_nobody_writes_and_nobody_is_a_stranger(tmp_path: Path) -> None:
    machine = Machine(tmp_path, "--quiet")
    machine.start()
    try:
        ours, looks = machine.pair("log", "ours"), machine.pair("view", "looks")
        with machine.phone(looks) as viewer, closing(sqlite3.connect(devices(machine), isolation_level=None)) as other:
            with machine.phone(ours) as phone:
                assert phone.typed(1, "rod in tenths")["word"] == "written"
                other.execute("ALTER TABLE devices RENAME TO gone")
                phone.type(2, "rod in feet and inches")
                with pytest.raises(ConnectionClosed) as closed:
                    phone.next("never")
                assert closed.value.rcvd is not None
                assert closed.value.rcvd.code == 1013, "to be tried again"
            with machine.client(ours) as client:
                assert [client.get(path).status_code for path in ("/", "/who", "/app.js")] == [503] * 3
            for _ in range(3):
                viewer.next("tick")
            other.execute("ALTER TABLE gone RENAME TO devices")
            with machine.phone(ours) as phone:
                assert phone.typed(2, "rod in feet and inches")["word"] == "written"
                machine.beside("--revoke", "ours")
                with pytest.raises(ConnectionClosed):
                    for _ in range(5):
                        phone.next("tick")
        assert [entry["kind"] for entry in machine.entries()] == ["opened", "rod", "rod"]
        assert "gone" in machine.errors() or "devices" in machine.errors(), "trouble is told"
    finally:
        machine.stop()


def test_a_paired_phone_that_asks_too_often_is_told_so(machine: Machine) -> None:
    cookie = machine.pair()
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
    ours, bad = machine.pair("log", "ours"), machine.pair("view", "bad")
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
