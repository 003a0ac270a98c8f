"""Both sites on their ports, until a signal comes."""

from __future__ import annotations

import asyncio
import os
import resource
import signal
import socket
from collections import Counter
from collections.abc import Callable, Iterator
from contextlib import contextmanager, suppress
from dataclasses import dataclass
from typing import Any, ClassVar

import h11
import uvicorn
from starlette.types import ASGIApp
from uvicorn.protocols.http.h11_impl import H11Protocol

from assistant.environment import ExitStatus, Trouble
from assistant.page.authority import Certificates
from assistant.page.hub import Hub
from assistant.page.wire import LONGEST_FRAME

PATIENCE = 10.0
"""Seconds that a client has for the head of its request."""

MOST_FROM_ONE = 100
MOST_CONNECTIONS = 400
"""Connections open at once, from one address and in all."""


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
    """Lets nobody hold a connection without asking for something, nor very many of them."""

    _open: ClassVar[Counter[str]] = Counter()

    def connection_made(self, transport: asyncio.Transport) -> None:  # type: ignore[override]
        super().connection_made(transport)
        self._from = self.client[0] if self.client else ""
        _Impatient._open[self._from] += 1
        self._closing = self.loop.call_later(PATIENCE, self._no_more_waiting)
        if _Impatient._open[self._from] > MOST_FROM_ONE:
            transport.abort()

    def connection_lost(self, exc: Exception | None) -> None:
        self._closing.cancel()
        _Impatient._open[self._from] -= 1
        super().connection_lost(exc)

    def handle_websocket_upgrade(self, event: h11.Request) -> None:
        self._closing.cancel()
        _Impatient._open[self._from] -= 1  # the link keeps its own count
        super().handle_websocket_upgrade(event)

    def _no_more_waiting(self) -> None:
        if self.cycle is None:
            self.transport.abort()


class _Server(uvicorn.Server):
    @contextmanager
    def capture_signals(self) -> Iterator[None]:
        """Leave signals to `serve`, which has two servers to stop."""
        yield


def serve(
    page: ASGIApp, landing: ASGIApp, hub: Hub, ports: Ports, certificates: Certificates, ready: Callable[[], None]
) -> None:
    """Serve until interrupted. `ready` is called once both sites can be reached. Raises `PortTaken`."""
    _allow_many_files()
    sockets = [_listen(ports.address, port) for port in (ports.page, ports.landing)]
    secure = {"ssl_certfile": str(certificates.chain), "ssl_keyfile": str(certificates.key)}
    servers = [_Server(_config(page, **secure)), _Server(_config(landing, ws="none"))]
    with asyncio.Runner() as runner:
        runner.run(_serve(servers, sockets, hub, ready))


def _config(app: ASGIApp, **more: Any) -> uvicorn.Config:
    return uvicorn.Config(
        app,
        http=_Impatient,
        lifespan="off",
        log_level="critical",
        access_log=False,
        server_header=False,
        proxy_headers=False,
        limit_concurrency=MOST_CONNECTIONS,
        timeout_graceful_shutdown=2,
        h11_max_incomplete_event_size=16_384,
        **{
            "ws": "websockets-sansio",
            "ws_max_size": LONGEST_FRAME,
            "ws_per_message_deflate": False,
            **more,
        },
    )


async def _serve(servers: list[_Server], sockets: list[socket.socket], hub: Hub, ready: Callable[[], None]) -> None:
    def stop() -> None:
        for line in list(hub.lines):
            line.end()
        for server in servers:
            server.should_exit = True

    loop = asyncio.get_running_loop()
    for number in (signal.SIGINT, signal.SIGTERM):
        loop.add_signal_handler(number, stop)
    ticking = asyncio.create_task(hub.tick())
    running = [asyncio.create_task(server.serve([one])) for server, one in zip(servers, sockets, strict=True)]
    while not all(server.started for server in servers):
        await asyncio.sleep(0.01)
    ready()
    tell_service_manager("READY=1")
    await asyncio.gather(*running)
    ticking.cancel()


def _listen(address: str, port: int) -> socket.socket:
    family = socket.AF_INET
    listening = socket.socket(family)
    listening.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
    try:
        listening.bind((address, port))
    except OSError as trouble:
        listening.close()
        raise PortTaken(f"Port {port} cannot be used ({trouble.strerror}); name another with --port.") from trouble
    return listening


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
