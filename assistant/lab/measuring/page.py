"""The page for phones: how soon it answers, what it weighs, and what many viewers cost."""

from __future__ import annotations

import json
import os
import shutil
import signal
import socket
import ssl
import struct
import subprocess
import sys
import tempfile
import threading
from collections.abc import Iterator
from contextlib import ExitStack, contextmanager, suppress
from pathlib import Path
from time import perf_counter, sleep
from typing import Any

from assistant.environment import now
from assistant.hearing.port import SAMPLE_RATE, Samples
from assistant.lab.measuring.speed import SET_UP, Line, demo, ms
from assistant.page.assets import STRANGERS, assets
from assistant.page.devices import Devices, Rights
from assistant.page.guard import COOKIE

VIEWERS = 50
PIECE = 640
BOARD = 0.3
"""Share of a core that imitates a core of a small board. Our own guess, without such a board at hand."""


def page() -> Iterator[Line]:
    """Everything about the page."""
    weight = sum(len(asset.content) for name, asset in assets().items() if name not in STRANGERS)
    yield "page: weight of all its files", f"{weight / 1000:.0f} kB", "budget 150 kB"
    yield from _latency("page", 1.0)
    yield from _latency(f"page, {BOARD:.0%} of a core", BOARD)
    yield from _viewers()


def _latency(name: str, share: float) -> Iterator[Line]:
    with served() as machine, machine.phone(Rights.LOG) as phone, _quota(machine.pid, share):
        shown, sounded = [], []
        for number, sound in enumerate(demo(), 1):
            first, then = phone.say(number, sound)
            shown.append(first)
            sounded.append(then)
        if share == 1.0:
            yield f"{name}: first paint, from nothing", machine.first_paint(), "budget 1 s"
        yield f"{name}: button up to answer shown, p50", ms(shown, 50), ""
        yield f"{name}: button up to answer shown, p95", ms(shown, 95), ""
        yield f"{name}: button up to first sound of the answer, p50", ms(sounded, 50), ""
        yield f"{name}: button up to first sound of the answer, p95", ms(sounded, 95), "budget 700 ms"
        yield f"{name}: memory of the server", f"{machine.memory_mb():.0f} MB", ""


def _viewers() -> Iterator[Line]:
    with served() as machine, ExitStack() as stack:
        phone = stack.enter_context(machine.phone(Rights.LOG))
        for number, words in enumerate(SET_UP, 1):
            phone.typed(number, words)
        for _ in range(VIEWERS):
            viewer = stack.enter_context(machine.phone(Rights.VIEW))
            threading.Thread(target=viewer.drain, daemon=True).start()
        before, began = machine.cpu(), perf_counter()
        sleep(10)
        idle = (machine.cpu() - before) / (perf_counter() - began)
        yield f"page: {VIEWERS} viewers, nothing said, CPU", f"{idle:.1%}", "of one core"
        before, waits = machine.cpu(), []
        for number in range(len(SET_UP) + 1, len(SET_UP) + 31):
            began = perf_counter()
            phone.typed(number, f"reading four foot six at {number}")
            waits.append(perf_counter() - began)
        sleep(1)
        spent = (machine.cpu() - before) / 30
        yield f"page: {VIEWERS} viewers, CPU an entry", f"{spent * 1000:.0f} ms", "the spoken answer included"
        yield f"page: {VIEWERS} viewers, typed line to answer, p95", ms(waits, 95), ""
        yield f"page: {VIEWERS} viewers, memory of the server", f"{machine.memory_mb():.0f} MB", ""


class Machine:
    """A server in a process of its own."""

    def __init__(self, folder: Path) -> None:
        self._folder = folder
        self.port = _free_port()
        ports = ["--port", str(self.port), "--landing-port", str(_free_port())]
        place = ["--book", str(folder / "bench.rodside"), "--state", str(folder / "state")]
        command = [sys.executable, "-m", "assistant", "serve", "--address", "127.0.0.1", "--headless", *ports, *place]
        self.errors = folder / "errors.txt"
        with self.errors.open("w") as errors:
            self.process = subprocess.Popen(command, stdout=subprocess.PIPE, stderr=errors, text=True)
        assert self.process.stdout is not None
        while "Ready" not in self.process.stdout.readline():
            if self.process.poll() is not None:
                raise RuntimeError("the server does not start")
        self.pid = self.process.pid

    @property
    def authority(self) -> Path:
        """The certificate to trust."""
        return self._folder / "state" / "certificates" / "authority.pem"

    @contextmanager
    def phone(self, rights: Rights) -> Iterator[Phone]:
        """A newly paired phone, connected."""
        from websockets.sync.client import connect

        trust = ssl.create_default_context(cafile=self.authority)
        origin: Any = f"https://127.0.0.1:{self.port}"
        life, cookie = os.urandom(8).hex(), {"cookie": f"{COOKIE}={self.secret(rights)}"}
        where = f"wss://127.0.0.1:{self.port}/link?life={life}"
        with connect(where, origin=origin, ssl=trust, additional_headers=cookie) as link:
            yield Phone(link)

    def secret(self, rights: Rights) -> str:
        """That of a newly paired device."""
        devices = Devices(self._folder / "state" / "devices.sqlite", now)
        paired = devices.pair(devices.offer(rights), "bench")
        devices.close()
        assert paired is not None
        return paired[0]

    def code(self, rights: Rights) -> str:
        """A code that pairs a device."""
        devices = Devices(self._folder / "state" / "devices.sqlite", now)
        code = devices.offer(rights)
        devices.close()
        return code

    def cpu(self) -> float:
        """Seconds of CPU that the server has taken."""
        fields = Path(f"/proc/{self.pid}/stat").read_text().rpartition(")")[2].split()
        return (int(fields[11]) + int(fields[12])) / os.sysconf("SC_CLK_TCK")

    def memory_mb(self) -> float:
        """The most memory that the server has had."""
        for line in Path(f"/proc/{self.pid}/status").read_text().splitlines():
            if line.startswith("VmHWM"):
                return int(line.split()[1]) / 1024
        return 0.0

    def first_paint(self) -> str:
        """Milliseconds to the first paint in chromium, where that and its driver are installed."""
        chromium = shutil.which("chromium")
        try:
            from playwright.sync_api import sync_playwright
        except ImportError:
            chromium = None
        if chromium is None:
            return "not measured"
        with sync_playwright() as driver:
            browser = driver.chromium.launch(executable_path=chromium)
            context = browser.new_context(ignore_https_errors=True, viewport={"width": 360, "height": 740})
            url = f"https://127.0.0.1:{self.port}"
            context.add_cookies([{"name": COOKIE, "value": self.secret(Rights.VIEW), "url": url, "secure": True}])
            shown = context.new_page()
            shown.goto(url)
            shown.wait_for_selector("body[data-connected=true]")
            paint: float = shown.evaluate("performance.getEntriesByName('first-contentful-paint')[0].startTime")
            browser.close()
        return f"{paint:.0f} ms"


class Phone:
    """A phone without a browser."""

    def __init__(self, link: Any) -> None:
        self._link = link
        self._seen = self._next("hello")["book"]["sequence"]

    def say(self, number: int, sound: Samples) -> tuple[float, float]:
        """Say something at the pace of speech; seconds from its end to the answer shown, and to its first sound."""
        began = perf_counter()
        self._tell("begin", number=number, after=number - 1, seen=self._seen)
        count = len(sound) // PIECE
        for index in range(count):
            sleep(max(0.0, began + (index + 1) * PIECE / SAMPLE_RATE - perf_counter()))
            piece = sound[index * PIECE : (index + 1) * PIECE].astype("<i2").tobytes()
            self._link.send(struct.pack("<II", number, index) + piece)
        ended = perf_counter()
        self._tell("end", number=number, frames=count)
        self._seen = self._next("answer")["answer"]["sequence"]
        shown = perf_counter() - ended
        while not isinstance(self._link.recv(30), bytes):
            pass
        sounded = perf_counter() - ended
        sleep(1.0)
        return shown, sounded

    def typed(self, number: int, text: str) -> None:
        """Type something and wait for the answer."""
        self._tell("typed", number=number, after=number - 1, seen=self._seen, text=text)
        self._seen = self._next("answer")["answer"]["sequence"]

    def rest(self, seconds: float) -> None:
        """Take whatever comes for a while."""
        ends = perf_counter() + seconds
        while (left := ends - perf_counter()) > 0:
            with suppress(TimeoutError):
                self._link.recv(left)

    def drain(self) -> None:
        """Take whatever comes, to the end."""
        from websockets.exceptions import ConnectionClosed

        try:
            for _ in self._link:
                pass
        except ConnectionClosed:
            pass

    def _tell(self, kind: str, **values: Any) -> None:
        self._link.send(json.dumps({"kind": kind, **values}))

    def _next(self, kind: str) -> dict[str, Any]:
        while True:
            got = self._link.recv(60)
            if isinstance(got, str):
                message: dict[str, Any] = json.loads(got)
                if message["kind"] == kind:
                    return message


@contextmanager
def served() -> Iterator[Machine]:
    """A server, and an end to it."""
    with tempfile.TemporaryDirectory() as folder:
        machine = Machine(Path(folder))
        try:
            yield machine
        finally:
            machine.process.send_signal(signal.SIGCONT)
            machine.process.terminate()
            machine.process.wait(15)


@contextmanager
def _quota(pid: int, share: float) -> Iterator[None]:
    """Let a process run for a share of each tenth of a second only, as a quota of its CPU would."""
    over = threading.Event()

    def hold() -> None:
        while not over.is_set():
            os.kill(pid, signal.SIGSTOP)
            sleep(0.1 * (1 - share))
            os.kill(pid, signal.SIGCONT)
            sleep(0.1 * share)

    holding = threading.Thread(target=hold, daemon=True)
    if share < 1:
        holding.start()
    try:
        yield
    finally:
        over.set()
        if share < 1:
            holding.join()


def _free_port() -> int:
    with socket.socket() as one:
        one.bind(("127.0.0.1", 0))
        return int(one.getsockname()[1])
