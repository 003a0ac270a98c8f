"""The page under floods, by strangers and by paired phones: what they cost, and how soon another phone is answered.

`python -m assistant.lab.measuring.flood` prints a line a flood. All of it stays on the loopback; each flood is bounded
in count and time. The floods come from 127.0.0.2 and up, the phone that is timed from 127.0.0.1.
"""

from __future__ import annotations

import argparse
import os
import random
import socket
import ssl
import struct
from collections.abc import Callable, Iterator
from contextlib import suppress
from dataclasses import dataclass
from multiprocessing import Queue, get_context
from pathlib import Path
from time import monotonic, perf_counter, sleep
from typing import Any

from assistant.lab.measuring.page import Machine, served
from assistant.lab.measuring.speed import ms
from assistant.page.devices import Rights
from assistant.page.guard import COOKIE

CONNECTIONS = 4_500
SOCKETS = 30
PING, TEXT = 0x9, 0x1
QUESTION = "how much fall in sixty feet at two percent"
LONG_ANSWER = "what can i say about lines"


@dataclass(frozen=True)
class Target:
    """Where a flood goes. `secret` is that of a paired phone, for those who have one."""

    port: int
    authority: Path
    seconds: float
    seed: int
    secret: str = ""

    def connected(self, source: str) -> socket.socket:
        """A bare connection from an address."""
        return socket.create_connection(("127.0.0.1", self.port), timeout=5, source_address=(source, 0))

    def secured(self, source: str) -> ssl.SSLSocket:
        """A connection after its handshake."""
        trust = ssl.create_default_context(cafile=self.authority)
        return trust.wrap_socket(self.connected(source), server_hostname="127.0.0.1")

    def request(self, line: str, *headers: str, body: str = "") -> bytes:
        """A request as a page of ours makes it."""
        host = f"127.0.0.1:{self.port}"
        told = [line, f"Host: {host}", f"Origin: https://{host}", f"Content-Length: {len(body)}", *headers, "", body]
        return "\r\n".join(told).encode()

    def linked(self, source: str) -> ssl.SSLSocket:
        """A link of the paired phone, of which nothing more will be read."""
        one = self.secured(source)
        key = "Sec-WebSocket-Key: AAAAAAAAAAAAAAAAAAAAAA==", "Sec-WebSocket-Version: 13"
        upgrade = "Connection: Upgrade", "Upgrade: websocket", f"Cookie: {COOKIE}={self.secret}"
        one.send(self.request(f"GET /link?life={os.urandom(8).hex()} HTTP/1.1", *upgrade, *key))
        got = b""
        while b"\r\n\r\n" not in got:
            got += one.recv(256) or b"\r\n\r\n"
        return one


def bare(target: Target) -> Iterator[str]:
    """Connections that never shake hands, from one address."""
    yield from _held(target, lambda number: "127.0.0.2")


def crowd(target: Target) -> Iterator[str]:
    """The same from ninety addresses."""
    chance = random.Random(target.seed)
    yield from _held(target, lambda number: f"127.0.1.{chance.randrange(1, 91)}")


def _held(target: Target, source: Callable[[int], str]) -> Iterator[str]:
    held, ends = [], monotonic() + target.seconds
    for number in range(CONNECTIONS):
        if monotonic() > ends:
            break
        with suppress(OSError):
            held.append(target.connected(source(number)))
    yield f"{len(held)} connections"
    sleep(max(0.0, ends - monotonic()))
    yield f"{sum(map(_is_open, held))} open in the end"


def one_byte(target: Target) -> Iterator[str]:
    """A whole request, and then a byte of the next now and then."""
    held, ends = [], monotonic() + target.seconds
    for number in range(200):
        with suppress(OSError):
            one = target.secured(f"127.0.0.{10 + number % 10}")
            one.send(target.request("GET /who HTTP/1.1"))
            held.append(one)
    yield f"{len(held)} connections"
    while monotonic() < ends:
        for one in held:
            with suppress(OSError):
                one.send(b"G")
        sleep(1)
    yield f"{sum(map(_is_open, held))} open in the end"


def pairing(target: Target) -> Iterator[str]:
    """Codes that are none, from thirty addresses."""
    chance, tries = random.Random(target.seed), 0
    for part in range(30):
        with suppress(OSError), target.secured(f"127.0.0.{30 + part}") as one:
            for _ in range(5):
                code = "".join(chance.choices("23456789ABCDEFGH", k=10))
                one.send(target.request("POST /pair HTTP/1.1", body=f"code={code}&name=x"))
                one.recv(16_384)
                tries += 1
    yield f"{tries} tries"


def unread(target: Target) -> Iterator[str]:
    """A paired phone that asks for long answers on many links and reads none."""
    held, ends, sent = [], monotonic() + target.seconds, 0
    for _ in range(SOCKETS):
        with suppress(OSError):
            held.append(target.linked("127.0.0.3"))
    yield f"{len(held)} links"
    while monotonic() < ends:
        for one in held:
            sent += 1
            text = f'{{"kind":"typed","number":{sent},"after":{sent},"seen":99999,"text":"{LONG_ANSWER}"}}'
            with suppress(OSError):
                one.send(_frame(TEXT, text.encode()))
        sleep(0.1)
    yield f"{sent} questions"


def pings(target: Target) -> Iterator[str]:
    """A phone that may only look sends pings as fast as it can, and reads no answer to them."""
    held, ends, sent = [target.linked("127.0.0.4") for _ in range(4)], monotonic() + target.seconds, 0
    many = _frame(PING, b"x" * 125) * 100
    for one in held:
        one.settimeout(0.5)
    while monotonic() < ends and held:
        for one in list(held):
            try:
                one.sendall(many)
                sent += 100
            except OSError:
                held.remove(one)
    yield f"{sent} pings, {len(held)} of 4 links left"


FLOODS: dict[str, tuple[Callable[[Target], Iterator[str]] | None, Rights | None]] = {
    "nothing": (None, None),
    "bare connections, one address": (bare, None),
    "bare connections, 90 addresses": (crowd, None),
    "one byte of the next request": (one_byte, None),
    "pairing codes, 30 addresses": (pairing, None),
    "links that read nothing": (unread, Rights.LOG),
    "pings": (pings, Rights.VIEW),
}


def main() -> None:
    """Print what each flood costs."""
    options = argparse.ArgumentParser(description=__doc__)
    options.add_argument("--seconds", type=float, default=20, help="length of each flood (20)")
    options.add_argument("--seed", type=int, default=1, help="of what they choose by chance (1)")
    given = options.parse_args()
    with served() as machine:
        for name in FLOODS:
            print(f"{name:32} {_flooded(machine, name, min(given.seconds, 60), given.seed)}", flush=True)


def _flooded(machine: Machine, name: str, seconds: float, seed: int) -> str:
    flood, rights = FLOODS[name]
    secret = machine.secret(rights) if rights is not None else ""
    told: Queue[str] = get_context("spawn").Queue()
    target = Target(machine.port, machine.authority, seconds, seed, secret)
    beside = get_context("spawn").Process(target=_run, args=(name, target, told), daemon=True)
    Path(f"/proc/{machine.pid}/clear_refs").write_text("5")  # so that the peak of memory is that of this flood
    logged, files, waits = machine.errors.stat().st_size, 0, []
    with machine.phone(Rights.LOG) as phone:
        if flood is not None:
            beside.start()
            sleep(1)
        ends, number = monotonic() + seconds, 0
        while monotonic() < ends:
            number += 1
            began = perf_counter()
            phone.typed(number, QUESTION)
            waits.append(perf_counter() - began)
            files = max(files, sum(1 for _ in Path(f"/proc/{machine.pid}/fd").iterdir()))
            phone.rest(0.3)
    came_in = _pairs(target, machine)
    if flood is not None:
        beside.join(seconds + 30)
        beside.kill()
    done = []
    while not told.empty():
        done.append(told.get())
    return (
        f"answers p50 {ms(waits, 50)}, p95 {ms(waits, 95)} of {len(waits)}; at most {files} descriptors, "
        f"{machine.memory_mb():.0f} MB; log +{machine.errors.stat().st_size - logged} B; "
        f"another phone pairs: {came_in}; {', '.join(done)}"
    )


def _pairs(target: Target, machine: Machine) -> str:
    """Whether the owner can pair another phone by the form, at once."""
    code = machine.code(Rights.VIEW)
    try:
        with target.secured("127.0.0.1") as one:
            one.send(target.request("POST /pair HTTP/1.1", body=f"code={code}&name=x"))
            return "yes" if b" 303 " in one.recv(16_384) else "no"
    except OSError:
        return "no"


def _run(name: str, target: Target, told: Queue[str]) -> None:
    flood = FLOODS[name][0]
    if flood is not None:
        for line in flood(target):
            told.put(line)


def _frame(kind: int, payload: bytes) -> bytes:
    """A masked frame of WebSocket, with a mask of nothing."""
    size = len(payload)
    length = bytes([0x80 | size]) if size < 126 else bytes([0x80 | 126]) + struct.pack(">H", size)
    return bytes([0x80 | kind]) + length + b"\x00" * 4 + payload


def _is_open(one: Any) -> bool:
    one.setblocking(False)
    try:
        while one.recv(65_536):
            pass
    except (BlockingIOError, ssl.SSLWantReadError):
        return True
    except OSError:
        pass
    return False


if __name__ == "__main__":
    main()
