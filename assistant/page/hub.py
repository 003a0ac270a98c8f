"""Every phone that is connected, and what goes out to them."""

from __future__ import annotations

import asyncio
import json
from dataclasses import dataclass, field
from typing import Any

from assistant.page.conversation import Conversation
from assistant.page.devices import Device, Devices, Rights
from assistant.page.voice import sentences
from assistant.page.wire import sound_out

WAITING = 200
"""Messages that may wait for a slow phone; beyond that it is let go, and comes back to a fresh state."""

TICK = 2.0
"""Seconds between signs of life. A page that hears nothing for a few of them knows that it is not connected."""


@dataclass(eq=False)
class Line:
    """The way out to one connected phone."""

    device: Device
    waiting: asyncio.Queue[str | bytes | None] = field(default_factory=lambda: asyncio.Queue(WAITING))

    def send(self, message: str | bytes) -> None:
        """Put a message in the queue, or give the phone up."""
        try:
            self.waiting.put_nowait(message)
        except asyncio.QueueFull:
            self.end()

    def end(self) -> None:
        """Let the phone go."""
        while not self.waiting.empty():
            self.waiting.get_nowait()
        self.waiting.put_nowait(None)


class Hub:
    """All lines, and the one conversation."""

    def __init__(self, conversation: Conversation, devices: Devices) -> None:
        self.conversation = conversation
        self.devices = devices
        self.lines: set[Line] = set()
        self._turn = asyncio.Lock()

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
        parts = sentences(spoken)
        for part, sentence in enumerate(parts):
            wav = await self.conversation.wav(sentence)
            if wav is None:
                return
            for line in list(self.lines):
                if line.device.rights >= Rights.LISTEN:
                    line.send(sound_out(number if line is origin else 0, part, part == len(parts) - 1, wav))

    async def tick(self) -> None:
        """Give signs of life for ever, and let go of those that were revoked."""
        while True:
            for line in list(self.lines):
                if self.devices.still(line.device):
                    self.tell(line, "tick")
                else:
                    line.end()
            await asyncio.sleep(TICK)


def message(kind: str, **values: Any) -> str:
    """A message as it is sent."""
    return json.dumps({"kind": kind, **values}, ensure_ascii=False, separators=(",", ":"))
