"""A bad link: bytes pass late, some much later, and the whole can be cut.

TCP sends again what is lost, so that a lost packet shows as a pause of a round trip and more.
"""

from __future__ import annotations

import asyncio
import random
import threading
from collections.abc import Callable
from contextlib import suppress
from functools import partial

DELAY, LOSS, AGAIN = 0.15, 0.02, 0.4
"""Seconds each way, the share of pieces lost, and seconds until they are there after all."""


class Proxy:
    """Between a phone and the machine. `cut` breaks every connection and lets none through until `mend`."""

    def __init__(self, port: int, target: int, *, bad: bool) -> None:
        self.port = port
        self._target = target
        self._bad = bad
        self._broken = False
        self._random = random.Random(1)
        self._writers: set[asyncio.StreamWriter] = set()
        self._loop = asyncio.new_event_loop()
        self._thread = threading.Thread(target=self._run, daemon=True)
        self._thread.start()

    def cut(self) -> None:
        self._broken = True
        self._call(lambda: [writer.transport.abort() for writer in self._writers])

    def mend(self) -> None:
        self._broken = False

    def close(self) -> None:
        self._call(self._loop.stop)
        self._thread.join(5)

    def _call(self, work: Callable[[], object]) -> None:
        self._loop.call_soon_threadsafe(work)

    def _run(self) -> None:
        self._loop.run_until_complete(asyncio.start_server(self._serve, "127.0.0.1", self.port))
        self._loop.run_forever()

    async def _serve(self, reader: asyncio.StreamReader, writer: asyncio.StreamWriter) -> None:
        if self._broken:
            writer.transport.abort()
            return
        try:
            far_reader, far_writer = await asyncio.open_connection("127.0.0.1", self._target)
        except OSError:
            writer.transport.abort()
            return
        both = {writer, far_writer}
        self._writers |= both
        await asyncio.gather(self._pass(reader, far_writer), self._pass(far_reader, writer))
        self._writers -= both

    async def _pass(self, reader: asyncio.StreamReader, writer: asyncio.StreamWriter) -> None:
        last = 0.0
        with suppress(OSError):
            while data := await reader.read(4096):
                late = DELAY + (AGAIN if self._random.random() < LOSS else 0.0) if self._bad else 0.0
                last = max(last + 1e-6, self._loop.time() + late)  # equal times would come in any order
                self._loop.call_at(last, partial(_write, writer, data))
        self._loop.call_at(max(last, self._loop.time()), writer.transport.abort)


def _write(writer: asyncio.StreamWriter, data: bytes) -> None:
    if not writer.transport.is_closing():
        writer.write(data)
