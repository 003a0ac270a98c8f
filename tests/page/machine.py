"""A machine that serves the page, as its own process, and phones without a browser."""

from __future__ import annotations

import json
import os
import re
import secrets
import signal
import socket
import ssl
import struct
import subprocess
import sys
import time
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any

import httpx
import numpy as np
from fixtures import AUDIO, ROOT
from websockets.sync.client import ClientConnection, connect

from assistant.hearing.sources import blocks

PIECE = 640


BELIEVING = """
import sys
from assistant.cli import main
from assistant.doubting import judge

judge.threshold = lambda *_: 1.0
sys.exit(main())
"""
"""The program, with whatever is heard believed: a recording cannot say again what was doubted. These tests are about
the way from the phone into the book; the doubt has its own."""


class Machine:
    """`rodside serve` on the loopback, which can be killed and started again."""

    def __init__(self, folder: Path, *more: str) -> None:
        self.folder = folder
        self.book = folder / "day.rodside"
        self.port, self.landing_port = free_port(), free_port()
        self.more = more
        self.process: subprocess.Popen[str] | None = None

    @property
    def url(self) -> str:
        return f"https://127.0.0.1:{self.port}"

    def command(self, *more: str) -> list[str]:
        place = ["--address", "127.0.0.1", "--port", str(self.port), "--landing-port", str(self.landing_port)]
        return [sys.executable, "-c", BELIEVING, "serve", *place, "--state", str(self.folder / "state"), *more]

    def start(self) -> None:
        command = self.command("--book", str(self.book), "--headless", *self.more)
        self.process = subprocess.Popen(
            command, stdout=subprocess.PIPE, stderr=(self.folder / "errors.txt").open("a"), text=True, cwd=ROOT,
            env={**os.environ, "PYTHONPATH": str(ROOT)},
        )  # fmt: skip
        assert self.process.stdout is not None
        told = [self.process.stdout.readline(), self.process.stdout.readline()]
        assert "Ready" in told[-1], (told, self.errors())

    def stop(self, how: signal.Signals = signal.SIGTERM) -> int:
        assert self.process is not None
        self.process.send_signal(how)
        status = self.process.wait(15)
        assert self.process.stdout is not None
        self.process.stdout.close()
        return status

    def errors(self) -> str:
        return (self.folder / "errors.txt").read_text()

    def beside(self, *more: str) -> str:
        """The same command in a second process, while this one runs."""
        done = subprocess.run(self.command(*more), capture_output=True, text=True, cwd=ROOT, check=True)
        return done.stdout

    def code(self, rights: str = "log") -> str:
        found = re.search(r"device .*: (\w{5} \w{5})$", self.beside("--pair", rights), re.MULTILINE)
        assert found is not None
        return found[1]

    def pair(self, rights: str = "log", name: str = "phone") -> str:
        """The cookie of a newly paired phone."""
        with self.client() as client:
            sent = {"code": self.code(rights), "name": name}
            done = client.post("/pair", data=sent, headers={"origin": self.url})
            assert done.status_code == 303, done.text
            return done.headers["set-cookie"].partition(";")[0]

    def client(self, cookie: str = "") -> httpx.Client:
        headers = {"cookie": cookie} if cookie else {}
        return httpx.Client(base_url=self.url, verify=self.trust(), headers=headers, timeout=10)

    def trust(self) -> ssl.SSLContext:
        return ssl.create_default_context(cafile=self.folder / "state" / "certificates" / "authority.pem")

    def reply_count(self) -> int:
        return len(self.entries())

    def entries(self) -> list[dict[str, Any]]:
        """The book as exported."""
        command = [sys.executable, "-m", "assistant", "export", str(self.book), "--format", "jsonl"]
        done = subprocess.run(command, capture_output=True, text=True, cwd=ROOT, check=True)
        return [json.loads(line) for line in done.stdout.splitlines()]

    @contextmanager
    def phone(self, cookie: str, life: str | None = None, **more: Any) -> Iterator[Phone]:
        life = life or secrets.token_hex(8)
        trust = self.trust()
        trust.maximum_version = ssl.TLSVersion.TLSv1_2  # 1.3 sends tickets while another thread of the client writes
        given = {"origin": self.url, "ssl": trust, "additional_headers": {"cookie": cookie}, **more}
        with connect(f"wss://127.0.0.1:{self.port}/link?life={life}", **given) as socket:
            yield Phone(socket, life)


class Phone:
    """One connection, spoken as the page speaks."""

    def __init__(self, socket: ClientConnection, life: str) -> None:
        self.socket = socket
        self.life = life
        self.hello = self.next("hello")
        self.seen = self.hello["book"]["sequence"]
        self.sounds: list[bytes] = []

    def next(self, *kinds: str, timeout: float = 20) -> dict[str, Any]:
        """The next message of a kind, within so many seconds, whatever else comes; sound that comes before is kept."""
        until = time.monotonic() + timeout
        while True:
            got = self.socket.recv(max(0.0, until - time.monotonic()))
            if isinstance(got, bytes):
                self.sounds.append(got)
                continue
            message: dict[str, Any] = json.loads(got)
            if message["kind"] == "book":
                self.seen = message["sequence"]
            if message["kind"] in kinds:
                return message

    def tell(self, kind: str, **values: Any) -> None:
        self.socket.send(json.dumps({"kind": kind, **values}))

    def type(self, number: int, text: str, after: int | None = None, seen: int | None = None) -> None:
        seen = self.seen if seen is None else seen
        self.tell("typed", number=number, after=number - 1 if after is None else after, seen=seen, text=text)

    def typed(self, number: int, text: str, **more: int) -> dict[str, Any]:
        self.type(number, text, **more)
        message = self.next("answer")
        assert message["number"] == number
        self.seen = message["answer"]["sequence"]
        return dict(message["answer"])

    def say(self, number: int, pieces: list[bytes], first: int = 0) -> None:
        self.tell("begin", number=number, after=number - 1, seen=self.seen)
        for index, piece in list(enumerate(pieces))[first:]:
            self.socket.send(frame(number, index, piece))

    def said(self, number: int, pieces: list[bytes]) -> dict[str, Any]:
        self.say(number, pieces)
        self.tell("end", number=number, frames=len(pieces))
        answer = dict(self.next("answer")["answer"])
        self.seen = answer["sequence"]
        return answer


def frame(number: int, index: int, piece: bytes) -> bytes:
    return struct.pack("<II", number, index) + piece


def pieces(name: str) -> list[bytes]:
    """A bundled recording as the page sends it."""
    sound = np.concatenate(list(blocks(AUDIO / name)))
    return [sound[start : start + PIECE].astype("<i2").tobytes() for start in range(0, len(sound), PIECE)]


def free_port() -> int:
    with socket.socket() as one:
        one.bind(("127.0.0.1", 0))
        return int(one.getsockname()[1])


DRAIN = [
    "rod in feet and inches",
    "baseline three foot nine at station zero",
    "confirm",
    "line from station zero falling two percent",
    "confirm",
]
