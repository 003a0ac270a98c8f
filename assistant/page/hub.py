"""Every phone that is connected, and what goes out to them."""

from __future__ import annotations

import asyncio
import json
import logging
from collections import deque
from typing import Any

from assistant.page.conversation import Conversation
from assistant.page.devices import Device, Devices, Rights
from assistant.page.voice import sentences
from assistant.page.wire import sound_out

WAITING = 2_000_000
"""Bytes that may wait for a slow phone; beyond that it is let go, and comes back to a fresh state."""

SOUND = 1_000_000
"""Of these, bytes up to which sound is added, more than 20 s of speech: a phone shows what it cannot play in time, and
is not let go for what another made us say."""

UNSPOKEN = 8
"""Answers that may wait for the voice; beyond that they are shown and not spoken."""

TICK = 2.0
"""Seconds between signs of life. A page that hears nothing for a few of them knows that it is not connected."""

REFUSED, FAILED, BUSY = 1008, 1011, 1013
"""Why a link is closed: what came was not allowed, something failed inside, or try again later (RFC 6455, 7.4, and its
registry)."""

_LOG = logging.getLogger(__name__)


class Line:
    """The way out to one connected phone."""

    def __init__(self, device: Device) -> None:
        self.device = device
        self.ended: int | None = None
        """Why, once it is over."""
        self._waiting: deque[str | bytes] = deque()
        self._size = 0
        self._news = asyncio.Event()

    def send(self, message: str | bytes) -> None:
        """Put a message in the queue, or give the phone up. Text is ASCII; a single message may be of any size."""
        if self.ended is not None:
            return
        if self._waiting and self._size + len(message) > WAITING:
            _LOG.warning("A phone did not keep up and was let go: %s.", self.device.name)
            self.end()
            return
        self._waiting.append(message)
        self._size += len(message)
        self._news.set()

    def play(self, sound: bytes) -> None:
        """Put sound in the queue, or leave it out where there is no time for it."""
        if not self._waiting or self._size + len(sound) <= SOUND:
            self.send(sound)

    async def next(self) -> str | bytes | None:
        """The next message; none once it is over."""
        while self.ended is None:
            if self._waiting:
                message = self._waiting.popleft()
                self._size -= len(message)
                return message
            self._news.clear()
            await self._news.wait()
        return None

    def end(self, code: int = BUSY) -> None:
        """Let the phone go."""
        if self.ended is None:
            self.ended = code
        self._waiting.clear()
        self._news.set()


class Hub:
    """All lines, and the one conversation."""

    def __init__(self, conversation: Conversation, devices: Devices) -> None:
        self.conversation = conversation
        self.devices = devices
        self.lines: list[Line] = []
        self._turn = asyncio.Lock()
        self._unspoken = 0

    def tell(self, line: Line, kind: str, **values: Any) -> None:
        """A message to one phone."""
        line.send(message(kind, **values))

    def tell_all(self, kind: str, *, but: Line | None = None, **values: Any) -> None:
        """A message to every phone but one."""
        text = message(kind, **values)
        for line in list(self.lines):
            if line is not but:
                line.send(text)

    async def spread(self, origin: Line | None, number: int, answer: dict[str, Any]) -> None:
        """After an answer: sound to those who listen, the book and the answer to all."""
        by = "" if origin is None else origin.device.name
        self.tell_all("said", but=origin, by=by, answer=answer)
        await self._speak(origin, number, answer["spoken"])
        async with self._turn:
            news = await self.conversation.catch_up()
            if news is not None:
                self.tell_all("book", **news)

    async def _speak(self, origin: Line | None, number: int, spoken: str) -> None:
        if self._unspoken >= UNSPOKEN:
            return
        self._unspoken += 1
        try:
            parts = sentences(spoken)
            for part, sentence in enumerate(parts):
                wav = await self.conversation.wav(sentence)
                if wav is None:
                    return
                last = part == len(parts) - 1
                others = sound_out(0, part, last, wav)  # one for all, however many wait for it
                for line in list(self.lines):
                    if line.device.rights >= Rights.LISTEN:
                        line.play(sound_out(number, part, last, wav) if line is origin else others)
        finally:
            self._unspoken -= 1

    async def tick(self) -> None:
        """Give signs of life for ever, and let go of those that were revoked.

        Rights are looked at by each message too (`Links`): where the table of phones is in trouble, who looks goes on
        looking, and nobody writes.
        """
        while True:
            for line in list(self.lines):
                try:
                    if self.devices.current(line.device) is None:
                        line.end(REFUSED)
                except Exception:
                    _LOG.exception("The table of phones cannot be read.")
                self.tell(line, "tick")
            await asyncio.sleep(TICK)


def message(kind: str, **values: Any) -> str:
    """A message as it is sent: in ASCII, so that whatever it tells can be sent, and its length is its size."""
    return json.dumps({"kind": kind, **values}, separators=(",", ":"))
