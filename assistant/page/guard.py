"""What stands before both sites: names, rates, secrets and headers. A stranger gets no further."""

from __future__ import annotations

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


@dataclass
class Gate:
    """Who may come in, and how often."""

    names: Iterable[str]
    devices: Devices | None = None
    requests: Allowance = field(default_factory=lambda: Allowance(rate=4, burst=120))
    tries: Allowance = field(default_factory=lambda: Allowance(rate=1 / 12, burst=5))
    """Pairing codes from one address."""
    all_tries: Allowance = field(default_factory=lambda: Allowance(rate=1 / 3, burst=20))
    """Pairing codes from anywhere."""

    def __post_init__(self) -> None:
        self._names = frozenset(self.names)

    def knows_host(self, headers: Headers) -> bool:
        """Whether the page was asked for under one of our own names: no other site can be made to point here."""
        return host_name(headers.get("host", "")) in self._names

    def device(self, headers: Headers) -> Device | None:
        """The paired device that asks, if it is one."""
        secret = _cookie(headers.get("cookie", ""))
        return self.devices.device(secret) if self.devices is not None and secret else None

    def own_origin(self, headers: Headers) -> bool:
        """Whether a page of this very site asks."""
        return headers.get("origin") == f"https://{headers.get('host', '')}"

    def may_try(self, address: str) -> bool:
        """Whether another pairing code may be tried from `address`."""
        return self.tries.take(address) and self.all_tries.take("")


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
        refusal = self._refusal(scope, headers)
        if refusal is not None:
            if scope["type"] == "websocket":
                await receive()
                await send({"type": "websocket.close", "code": 1008})
            else:
                await refusal(scope, receive, _with_headers(send, headers))
            return
        scope["device"] = self._gate.device(headers)
        await self._app(scope, receive, _with_headers(send, headers))

    def _refusal(self, scope: Scope, headers: Headers) -> Response | None:
        if not self._gate.requests.take(address(scope)):
            return PlainTextResponse("Too many requests; wait a little.", 429, {"retry-after": "5"})
        if not self._gate.knows_host(headers):
            return PlainTextResponse("This machine does not go by that name.", 421)
        if scope["type"] == "websocket" and not self._gate.own_origin(headers):
            return PlainTextResponse("No.", 403)
        return None


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


def _with_headers(send: Send, asked: Headers) -> Send:
    host = asked.get("host", "")
    clean = all(letter.isalnum() or letter in ".:-" for letter in host)
    policy = POLICY.format(sockets=f" wss://{host}" if host and clean else "")

    async def sending(message: Message) -> None:
        if message["type"] == "http.response.start":
            headers = MutableHeaders(scope=message)
            headers["content-security-policy"] = policy
            for name, value in HEADERS.items():
                headers.setdefault(name, value)
        await send(message)

    return sending
