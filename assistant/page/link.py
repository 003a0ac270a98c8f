"""One connected phone: what comes in, in order, each utterance once."""

from __future__ import annotations

import asyncio
import traceback
from collections import OrderedDict
from contextlib import suppress
from typing import Any

from starlette.websockets import WebSocket, WebSocketDisconnect

from assistant.page.devices import Device, Rights
from assistant.page.hearing import Utterance
from assistant.page.hub import Hub, Line
from assistant.page.limits import Allowance
from assistant.page.talk import Origin
from assistant.page.wire import (
    LONGEST_SOUND,
    RUN,
    Bad,
    Begin,
    Drop,
    End,
    Frame,
    Message,
    Typed,
    read_bytes,
    read_text,
)

LIVES = 100
ANSWERS = 60
"""Answers kept of each life of a page, for one that did not arrive."""

REFUSED, TOO_MUCH = 1008, 1013


class Life:
    """What the server keeps of one life of a page, while its connections come and go."""

    def __init__(self, device: Device) -> None:
        self.device = device
        self.open: _Open | None = None
        self.answers: OrderedDict[int, asyncio.Task[dict[str, Any]]] = OrderedDict()
        self.line: Line | None = None

    def keep(self, number: int, task: asyncio.Task[dict[str, Any]]) -> None:
        """Remember an answer, or that one is being worked out."""
        self.answers[number] = task
        if len(self.answers) > ANSWERS:
            self.answers.popitem(last=False)


class _Open:
    """An utterance whose sound is coming in."""

    def __init__(self, begin: Begin, utterance: Utterance) -> None:
        self.begin = begin
        self.utterance = utterance
        self.frames = 0
        self.size = 0
        self.told_end = False


class Links:
    """Lets phones in. Rates are per device; a microphone sends 25 frames a second, a page that catches up more."""

    def __init__(self, hub: Hub) -> None:
        self._hub = hub
        self._lives: OrderedDict[str, Life] = OrderedDict()
        self._messages = Allowance(rate=60, burst=1500)
        self._bytes = Allowance(rate=200_000, burst=6_000_000)
        self._spreading: set[asyncio.Task[None]] = set()

    async def serve(self, socket: WebSocket, device: Device) -> None:
        """Serve one connection of a paired phone to its end."""
        name = socket.query_params.get("life", "")
        life = self._life(name, device) if RUN.fullmatch(name) else None
        if life is None:
            await socket.close(REFUSED)
            return
        await socket.accept()
        line = Line(device)
        before, life.line = life.line, line
        if before is not None:
            before.end()
        self._greet(line, life)
        self._hub.lines.add(line)
        sending = asyncio.create_task(_send(socket, line))
        try:
            await self._receive(socket, name, life, line)
        except (WebSocketDisconnect, RuntimeError):
            pass
        finally:
            self._hub.lines.discard(line)
            if life.line is line:
                life.line = None
            sending.cancel()
            with suppress(asyncio.CancelledError, WebSocketDisconnect, RuntimeError):
                await sending

    def _life(self, name: str, device: Device) -> Life | None:
        life = self._lives.setdefault(name, Life(device))
        self._lives.move_to_end(name)
        if len(self._lives) > LIVES:
            self._lives.popitem(last=False)
        return life if life.device.key == device.key else None

    def _greet(self, line: Line, life: Life) -> None:
        talk = self._hub.conversation
        have = {"number": life.open.begin.number, "frames": life.open.frames} if life.open else None
        self._hub.tell(
            line,
            "hello",
            device=line.device.name,
            rights=line.device.rights.name.lower(),
            have=have,
            last=talk.last,
            book=talk.standing.as_json(),
        )

    async def _receive(self, socket: WebSocket, name: str, life: Life, line: Line) -> None:
        while True:
            got = await socket.receive()
            if got["type"] == "websocket.disconnect":
                return
            given: str | bytes = got["text"] if got.get("text") is not None else got.get("bytes") or b""
            key = life.device.key
            if not (self._messages.take(key) and self._bytes.take(key, len(given))):
                await socket.close(TOO_MUCH)
                return
            message = read_text(given) if isinstance(given, str) else read_bytes(given)
            allowed = life.device.rights >= Rights.LOG
            if isinstance(message, Bad) or not allowed:
                await socket.close(REFUSED)
                return
            await self._took(message, name, life, line)

    async def _took(self, message: Message, name: str, life: Life, line: Line) -> None:
        match message:
            case Begin():
                if message.number not in life.answers and (
                    life.open is None or life.open.begin.number != message.number
                ):
                    life.open = _Open(message, self._hub.conversation.utterance())
            case Frame():
                await self._sound(message, life, line)
            case End():
                self._ended(message, name, life, line)
            case Typed():
                origin = Origin(name, message.number, message.after, message.seen)
                text = message.text
                self._answer(life, line, message.number, lambda: self._hub.conversation.typed(origin, text))
            case Drop():
                if life.open is not None and life.open.begin.number == message.number:
                    life.open = None

    async def _sound(self, frame: Frame, life: Life, line: Line) -> None:
        now = life.open
        if now is None or now.begin.number != frame.number or frame.index < now.frames:
            return  # sent again after it had come
        if frame.index > now.frames:
            self._hub.tell(line, "need", number=frame.number, frames=now.frames)
            return
        now.frames += 1
        now.size += len(frame.sound)
        if now.size > LONGEST_SOUND:
            return
        words = await self._hub.conversation.hear(now.utterance, frame.sound)
        if words:
            self._hub.tell(line, "partial", number=frame.number, words=words)
        if now.utterance.ended and not now.told_end:
            now.told_end = True
            self._hub.tell(line, "pause", number=frame.number)

    def _ended(self, end: End, name: str, life: Life, line: Line) -> None:
        now = life.open
        if end.number in life.answers:
            self._answer(life, line, end.number, None)
        elif now is None or now.begin.number != end.number or now.frames != end.frames:
            have = now.frames if now is not None and now.begin.number == end.number else 0
            self._hub.tell(line, "need", number=end.number, frames=have)
        else:
            life.open = None
            origin = Origin(name, now.begin.number, now.begin.after, now.begin.seen)
            utterance = now.utterance
            self._answer(life, line, end.number, lambda: self._hub.conversation.heard(origin, utterance))

    def _answer(self, life: Life, line: Line, number: int, work: Any) -> None:
        """Work an answer out, once, and give it to whichever connection the page then has."""
        task = life.answers.get(number)
        if task is None:
            task = asyncio.create_task(work())
            life.keep(number, task)
            self._later(self._give(life, number, task, first=True))
        elif task.done():
            self._later(self._give(life, number, task, first=False))

    async def _give(self, life: Life, number: int, task: asyncio.Task[dict[str, Any]], *, first: bool) -> None:
        try:
            answer = await task
        except Exception:
            life.answers.pop(number, None)
            traceback.print_exc()
            answer = self._hub.conversation.failed()
        line = life.line
        if line is not None:
            self._hub.tell(line, "answer", number=number, answer=answer)
        if first:
            await self._hub.spread(line, number, answer)

    def _later(self, work: Any) -> None:
        task = asyncio.create_task(work)
        self._spreading.add(task)
        task.add_done_callback(self._spreading.discard)


async def _send(socket: WebSocket, line: Line) -> None:
    while True:
        message = await line.waiting.get()
        if message is None:
            await socket.close(TOO_MUCH)
            return
        if isinstance(message, bytes):
            await socket.send_bytes(message)
        else:
            await socket.send_text(message)
