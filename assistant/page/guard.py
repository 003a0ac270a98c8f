"""What stands before both sites: names, rates, secrets and headers. A stranger gets no further."""

from __future__ import annotations

import logging
import sqlite3
from collections.abc import Iterable
from dataclasses import dataclass, field
from http.cookies import CookieError, SimpleCookie

from starlette.datastructures import Headers, MutableHeaders
from starlette.responses import PlainTextResponse, Response
from starlette.types import ASGIApp, Message, Receive, Scope, Send

from assistant.page.devices import Device, Devices
from assistant.page.limits import Allowance

COOKIE = "__Host-rodside"
"""Holds a device's secret. Browsers keep a name with this prefix to https and to this very host."""

POLICY = (
    "default-src 'none'; script-src 'self'; style-src 'self'; img-src 'self'; connect-src 'self'{sockets}; "
    "manifest-src 'self'; worker-src 'self'; base-uri 'none'; form-action 'self'; frame-ancestors 'none'"
)

HEADERS = {
    "x-content-type-options": "nosniff",
    "referrer-policy": "same-origin",
    "cross-origin-opener-policy": "same-origin",
    "cross-origin-resource-policy": "same-origin",
    "permissions-policy": "microphone=(self), camera=(), geolocation=()",
    "cache-control": "no-store",
}

BUSY = "The machine is busy; try again in a moment."

_LOG = logging.getLogger(__name__)


@dataclass
class Gate:
    """Who may come in, and how often."""

    names: Iterable[str]
    devices: Devices | None = None
    requests: Allowance = field(default_factory=lambda: Allowance(rate=4, burst=120))
    """Requests of one paired phone, or from one address where it is none."""
    tries: Allowance = field(default_factory=lambda: Allowance(rate=1 / 12, burst=5))
    """Pairing codes from one address. There is no limit for all together: a stranger would use it up."""

    def __post_init__(self) -> None:
        self._names = frozenset(self.names)

    def knows_host(self, headers: Headers) -> bool:
        """Whether the page was asked for under one of our own names: no other site can be made to point here."""
        return host_name(headers.get("host", "")) in self._names

    def device(self, headers: Headers) -> Device | None:
        """The paired device that asks, if it is one. Raises `sqlite3.Error`."""
        secret = _cookie(headers.get("cookie", ""))
        return self.devices.device(secret) if self.devices is not None and secret else None

    def own_origin(self, headers: Headers) -> bool:
        """Whether a page of this very site asks."""
        return headers.get("origin") == f"https://{headers.get('host', '')}"

    def may_try(self, address: str) -> bool:
        """Whether another pairing code may be tried from `address`."""
        return self.tries.take(address)


class Guard:
    """Refuses what is not for us, puts the device into the scope, and headers on every answer."""

    def __init__(self, app: ASGIApp, gate: Gate) -> None:
        self._app = app
        self._gate = gate

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Let one request through, or not."""
        if scope["type"] not in ("http", "websocket"):
            await self._app(scope, receive, send)
            return
        headers = Headers(scope=scope)
        sending = _Sending(send, headers)
        try:
            app = self._refusal(scope, headers) or self._app
            await app(scope, receive, sending)
        except Exception as trouble:
            _LOG.exception("A request failed.")
            if not sending.begun:  # else it is cut short
                busy = isinstance(trouble, sqlite3.Error)
                answer = _told(BUSY, 503) if busy else PlainTextResponse("Something failed inside.", 500)
                await answer(scope, receive, sending)

    def _refusal(self, scope: Scope, headers: Headers) -> Response | None:
        device = scope["device"] = self._gate.device(headers)
        if not self._gate.requests.take(device.key if device is not None else address(scope)):
            return _told("Too many requests; wait a little.", 429)
        if not self._gate.knows_host(headers):
            return PlainTextResponse("This machine does not go by that name.", 421)
        if scope["type"] == "websocket" and not self._gate.own_origin(headers):
            return PlainTextResponse("No.", 403)
        return None


def _told(words: str, status: int) -> Response:
    return PlainTextResponse(words, status, {"retry-after": "5"})


class _Sending:
    """Sends an answer with our headers on it, and knows whether it has begun."""

    def __init__(self, send: Send, asked: Headers) -> None:
        self.begun = False
        self._send = send
        host = asked.get("host", "")
        clean = all(letter.isalnum() or letter in ".:-" for letter in host)
        self._policy = POLICY.format(sockets=f" wss://{host}" if host and clean else "")

    async def __call__(self, message: Message) -> None:
        self.begun = True
        if message["type"] in ("http.response.start", "websocket.http.response.start"):
            headers = MutableHeaders(scope=message)
            headers["content-security-policy"] = self._policy
            for name, value in HEADERS.items():
                headers.setdefault(name, value)
        await self._send(message)


def address(scope: Scope) -> str:
    """The address that asks."""
    client = scope.get("client")
    return str(client[0]) if client else ""


def host_name(host: str) -> str:
    """A Host header without its port."""
    name, _, port = host.rpartition(":")
    return (name if port.isdigit() and name else host).lower()


def _cookie(header: str) -> str | None:
    try:
        found = SimpleCookie(header).get(COOKIE)
    except CookieError:
        return None
    return None if found is None else found.value
