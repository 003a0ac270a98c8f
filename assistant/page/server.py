"""Both sites on their ports, until a signal comes."""

from __future__ import annotations

import asyncio
import logging
import os
import resource
import signal
import socket
from asyncio import sslproto
from collections.abc import Callable, Iterator
from contextlib import contextmanager, suppress
from dataclasses import dataclass
from functools import partial
from pathlib import Path
from typing import Any, Protocol

import h11
import uvicorn
from starlette.types import ASGIApp
from uvicorn.protocols.http.h11_impl import H11Protocol
from uvicorn.protocols.websockets.websockets_sansio_impl import WebSocketsSansIOProtocol
from websockets.frames import Frame

from assistant.environment import ExitStatus, Trouble
from assistant.page.authority import Certificates
from assistant.page.doors import Door
from assistant.page.hub import Hub
from assistant.page.limits import Allowance
from assistant.page.wire import LONGEST_FRAME

PATIENCE = 10.0
"""Seconds from one answer, or from the beginning, to the next answer: for all of a request, and to take its answer."""

HANDSHAKE = 4.0
FAREWELL = 2.0
"""Seconds that a client has for the handshake of TLS, and to end a link or the TLS around it in good order."""

ACCEPTED = 8
"""Connections accepted in one turn of the loop: a crowd waits rather than the phones that are in."""

READ = 65_536
"""Bytes that a connection may read at once. The loop keeps as many for each, which is most of what one costs."""

RENEWING = 60.0
"""Seconds between two looks at the certificate's end."""

_LOG = logging.getLogger(__name__)


class PortTaken(Trouble):
    """A port cannot be used."""

    status = ExitStatus.USAGE


@dataclass(frozen=True)
class Ports:
    """Where to listen: on which address (empty for all), and on which ports."""

    address: str
    page: int
    landing: int


class _Impatient(H11Protocol):
    """Lets nobody hold a connection without asking for something and taking the answer."""

    def connection_made(self, transport: asyncio.Transport) -> None:  # type: ignore[override]
        super().connection_made(transport)
        self._ending = self.loop.call_later(PATIENCE, transport.abort)

    def connection_lost(self, exc: Exception | None) -> None:
        self._ending.cancel()
        super().connection_lost(exc)

    def on_response_complete(self) -> None:
        self._ending.cancel()
        self._ending = self.loop.call_later(PATIENCE, self.transport.abort)
        super().on_response_complete()

    def handle_websocket_upgrade(self, event: h11.Request) -> None:
        self._ending.cancel()  # the guard answers at once, and a link has limits of its own
        super().handle_websocket_upgrade(event)


class _Link(WebSocketsSansIOProtocol):
    """A link whose every frame is counted. What the messages among them may cost is counted by phone (`Links`)."""

    def __init__(self, door: Door, **given: Any) -> None:
        super().__init__(**given)
        self.close_timeout = FAREWELL
        self._door = door
        self._frames = Allowance(rate=100, burst=3000)
        self._controls = Allowance(rate=1, burst=20)

    async def send(self, message: Any) -> None:
        if message["type"] == "websocket.accept" and self.client is not None:
            self._door.knows(self.client)  # nobody but a paired phone is accepted
        await super().send(message)

    def handle_cont(self, event: Frame) -> None:
        if self._is_fair(self._frames):
            super().handle_cont(event)

    def handle_text(self, event: Frame) -> None:
        if self._is_fair(self._frames):
            super().handle_text(event)

    def handle_bytes(self, event: Frame) -> None:
        if self._is_fair(self._frames):
            super().handle_bytes(event)

    def handle_ping(self) -> None:
        if self._is_fair(self._controls):
            super().handle_ping()

    def handle_pong(self, event: Frame) -> None:
        if self._is_fair(self._controls):
            super().handle_pong(event)

    def _is_fair(self, allowance: Allowance) -> bool:
        if self.transport.is_closing():
            return False
        if allowance.take(""):
            return True
        _LOG.warning("A link sent too many frames and was cut.")
        self.transport.abort()
        return False


class _Server(uvicorn.Server):
    @contextmanager
    def capture_signals(self) -> Iterator[None]:
        """Leave signals to `serve`, which has two servers to stop."""
        yield


class _Loop(asyncio.SelectorEventLoop):
    """A loop whose TLS servers do not wait for ever."""

    async def create_server(self, *args: Any, **given: Any) -> asyncio.Server:
        """A server, with our limits where it speaks TLS."""
        sslproto.SSLProtocol.max_size = READ
        if given.get("ssl"):
            given |= {"ssl_handshake_timeout": HANDSHAKE, "ssl_shutdown_timeout": FAREWELL}
        server: asyncio.Server = await super().create_server(*args, **given)
        return server


def serve(
    page: ASGIApp,
    landing: ASGIApp,
    hub: Hub,
    ports: Ports,
    certificates: Callable[[], Certificates],
    ready: Callable[[], None],
) -> None:
    """Serve until interrupted. `ready` is called once both sites can be reached. Raises `PortTaken`.

    `certificates` gives those that are good now, and is asked again while serving.
    """
    _allow_many_files()
    doors = [_listen(ports.address, port) for port in (ports.page, ports.landing)]
    made = certificates()
    secure = {"ssl_certfile": str(made.chain), "ssl_keyfile": str(made.key)}
    servers = [_Server(_config(page, ws=partial(_Link, doors[0]), **secure)), _Server(_config(landing, ws="none"))]
    with asyncio.Runner(loop_factory=_Loop) as runner:
        secured = servers[0].config
        secured.load()
        assert secured.ssl is not None
        runner.run(_serve(servers, doors, hub, renewing(secured.ssl, certificates, made), ready))


def _config(app: ASGIApp, **more: Any) -> uvicorn.Config:
    return uvicorn.Config(
        app,
        http=_Impatient,
        lifespan="off",
        log_config=None,
        log_level="error",
        access_log=False,
        server_header=False,
        proxy_headers=False,
        backlog=ACCEPTED,
        timeout_graceful_shutdown=2,
        h11_max_incomplete_event_size=16_384,
        ws_max_size=LONGEST_FRAME,
        ws_per_message_deflate=False,
        **more,
    )


async def _serve(servers: list[_Server], doors: list[Door], hub: Hub, renewing: Any, ready: Callable[[], None]) -> None:
    def stop() -> None:
        for line in list(hub.lines):
            line.end()
        for server in servers:
            server.should_exit = True

    loop = asyncio.get_running_loop()
    for number in (signal.SIGINT, signal.SIGTERM):
        loop.add_signal_handler(number, stop)
    beside = [asyncio.create_task(work) for work in (hub.tick(), renewing)]
    running = [asyncio.create_task(server.serve([door])) for server, door in zip(servers, doors, strict=True)]
    while not all(server.started for server in servers):
        await asyncio.sleep(0.01)
    ready()
    tell_service_manager("READY=1")
    await asyncio.gather(*running)
    for task in beside:
        task.cancel()


class Chained(Protocol):
    """What handshakes are made with: an `ssl.SSLContext`."""

    def load_cert_chain(self, chain: Path, key: Path, /) -> None:
        """Use this certificate from now on."""


async def renewing(handshakes: Chained, certificates: Callable[[], Certificates], used: Certificates) -> None:
    """Give new handshakes a new certificate before the old one ends, for ever."""
    while True:
        await asyncio.sleep(RENEWING)
        try:
            made = certificates()
            if made.serial != used.serial:
                handshakes.load_cert_chain(made.chain, made.key)
                used = made
        except Exception:
            _LOG.exception("The certificate could not be renewed.")


def _listen(address: str, port: int) -> Door:
    try:
        return Door(address, port)
    except OSError as trouble:
        raise PortTaken(f"Port {port} cannot be used ({trouble.strerror}); name another with --port.") from trouble


def tell_service_manager(state: str) -> None:
    """Tell systemd how it stands, where it asks for that (sd_notify(3))."""
    place = os.environ.get("NOTIFY_SOCKET")
    if not place:
        return
    with suppress(OSError), socket.socket(socket.AF_UNIX, socket.SOCK_DGRAM) as told:
        told.connect(f"\0{place[1:]}" if place.startswith("@") else place)
        told.send(state.encode())


def _allow_many_files() -> None:
    _, most = resource.getrlimit(resource.RLIMIT_NOFILE)
    with suppress(OSError, ValueError):
        resource.setrlimit(resource.RLIMIT_NOFILE, (min(most, 4096), most))
