"""One connected phone: what comes in, in order, each utterance once."""

from __future__ import annotations

import asyncio
import logging
import sqlite3
from collections import OrderedDict
from collections.abc import Awaitable, Callable, Coroutine
from contextlib import suppress
from typing import Any

from starlette.websockets import WebSocket, WebSocketDisconnect

from assistant.page.devices import Device, Rights
from assistant.page.hearing import Utterance
from assistant.page.hub import BUSY, FAILED, REFUSED, Hub, Line
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

LIVES = 8
"""Lives of its page kept of one phone."""

ANSWERS = 60
"""Answers kept of each life of a page, for one that did not arrive."""

SOCKETS = 4
"""Links that one phone may have open; a further one ends its oldest, which may be dead without our knowing."""

MOST_LINKS = 200
"""Links of all phones together."""

GOOD_BYE = 1.0
"""Seconds to tell a phone why its link is closed; one that does not read is not waited for."""

Answer = dict[str, Any]

_LOG = logging.getLogger(__name__)


class _Shut(Exception):
    """The link is to be closed, for the reason of this code."""

    def __init__(self, code: int) -> None:
        super().__init__(code)
        self.code = code


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
        self._links = Allowance(rate=1, burst=20)
        self._messages = Allowance(rate=60, burst=1500)
        self._bytes = Allowance(rate=200_000, burst=6_000_000)
        self._utterances = Allowance(rate=2, burst=ANSWERS)
        self._turn = asyncio.Lock()
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
        try:
            self._enter(line, life)
            code = await self._exchange(socket, name, life, line)
        except _Shut as reason:
            code = reason.code
        except Exception:
            _LOG.exception("A link failed.")
            code = FAILED
        finally:
            if line in self._hub.lines:
                self._hub.lines.remove(line)
            if life.line is line:
                life.line = None
        with suppress(WebSocketDisconnect, RuntimeError, TimeoutError):
            async with asyncio.timeout(GOOD_BYE):
                await socket.close(code)

    def _enter(self, line: Line, life: Life) -> None:
        """Count a link among the others, and greet. One that takes its place ends an older one."""
        lines, key = self._hub.lines, line.device.key
        if not self._links.take(key):
            raise _Shut(BUSY)
        if life.line is not None:
            life.line.end()
        own = [one for one in lines if one.device.key == key and one.ended is None]
        for old in own[: max(0, len(own) - SOCKETS + 1)]:
            old.end()
        if len(lines) >= MOST_LINKS:
            raise _Shut(BUSY)
        life.line = line
        self._greet(line, life)
        lines.append(line)

    async def _exchange(self, socket: WebSocket, name: str, life: Life, line: Line) -> int:
        """Receive and send until either ends; why it did."""
        both = [asyncio.create_task(self._receive(socket, name, life, line)), asyncio.create_task(_send(socket, line))]
        try:
            done, _ = await asyncio.wait(both, return_when=asyncio.FIRST_COMPLETED)
            for task in done:
                task.result()
            return REFUSED if line.ended is None else line.ended
        finally:
            for task in both:
                task.cancel()
            await asyncio.gather(*both, return_exceptions=True)

    def _life(self, name: str, device: Device) -> Life | None:
        life = self._lives.get(name)
        if life is None:
            own = [known for known, one in self._lives.items() if one.device.key == device.key]
            if len(own) >= LIVES:
                del self._lives[own[0]]
            life = self._lives[name] = Life(device)
        self._lives.move_to_end(name)
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
            key = line.device.key
            if not (self._messages.take(key) and self._bytes.take(key, len(given))):
                raise _Shut(BUSY)
            message = read_text(given) if isinstance(given, str) else read_bytes(given)
            if isinstance(message, Bad):
                raise _Shut(REFUSED)
            self._check_may_write(line.device)
            await self._took(message, name, life, line)

    def _check_may_write(self, device: Device) -> None:
        """Look at the rights as they are now; where they cannot be known, nobody writes."""
        try:
            current = self._hub.devices.current(device)
        except sqlite3.Error as trouble:
            _LOG.exception("The rights of a phone cannot be read: nothing is written.")
            raise _Shut(BUSY) from trouble
        if current is None or current.rights < Rights.LOG:
            raise _Shut(REFUSED)

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
            now.utterance.too_long = True
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

    def _answer(self, life: Life, line: Line, number: int, work: Callable[[], Awaitable[Answer]] | None) -> None:
        """Work an answer out, once, and give it to whichever connection the page then has."""
        task = life.answers.get(number)
        if task is None and work is not None:
            if not self._utterances.take(life.device.key):
                raise _Shut(BUSY)
            task = asyncio.create_task(self._in_turn(life.device, work))
            life.keep(number, task)
            self._later(self._give(life, number, task, first=True))
        elif task is not None and task.done():
            self._later(self._give(life, number, task, first=False))

    async def _in_turn(self, device: Device, work: Callable[[], Awaitable[Answer]]) -> Answer:
        """One utterance after another; whoever was revoked while it waited writes no more."""
        async with self._turn:
            self._check_may_write(device)
            return await work()

    async def _give(self, life: Life, number: int, task: asyncio.Task[Answer], *, first: bool) -> None:
        try:
            answer = await task
        except _Shut as reason:
            life.answers.pop(number, None)
            if life.line is not None:
                life.line.end(reason.code)
            return
        line = life.line
        if line is not None:
            self._hub.tell(line, "answer", number=number, answer=answer)
        if first:
            await self._hub.spread(line, number, answer)

    def _later(self, work: Coroutine[Any, Any, None]) -> None:
        async def safely() -> None:
            try:
                await work
            except Exception:
                _LOG.exception("An answer could not be given to all.")

        task = asyncio.create_task(safely())
        self._spreading.add(task)
        task.add_done_callback(self._spreading.discard)


async def _send(socket: WebSocket, line: Line) -> None:
    with suppress(WebSocketDisconnect, RuntimeError):  # it is gone
        while (message := await line.next()) is not None:
            if isinstance(message, bytes):
                await socket.send_bytes(message)
            else:
                await socket.send_text(message)
