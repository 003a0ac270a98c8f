"""The two sites: the page itself by https, and a landing by plain http that gives away the certificate alone."""

from __future__ import annotations

import asyncio
from collections.abc import Sequence
from urllib.parse import parse_qs

from starlette.applications import Starlette
from starlette.middleware import Middleware
from starlette.requests import ClientDisconnect, Request
from starlette.responses import HTMLResponse, PlainTextResponse, RedirectResponse, Response
from starlette.routing import BaseRoute, Route, WebSocketRoute
from starlette.websockets import WebSocket

from assistant.page.assets import STRANGERS, assets, filled
from assistant.page.authority import Certificates
from assistant.page.devices import Devices
from assistant.page.guard import COOKIE, Gate, Guard, address
from assistant.page.hub import Hub
from assistant.page.link import Links

LONGEST_FORM = 1_000
FORM_SECONDS = 5
YEAR = 365 * 24 * 3600


def page(hub: Hub, devices: Devices, gate: Gate) -> Starlette:
    """The site for paired phones; a stranger gets the form for a pairing code and nothing else."""
    links = Links(hub)

    async def home(request: Request) -> Response:
        if request.scope["device"] is None:
            return RedirectResponse("/pair", 303)
        return HTMLResponse(assets()["index.html"].content)

    async def form(request: Request) -> Response:
        return _form(code=request.query_params.get("code", "")[:20], trouble="")

    async def pair(request: Request) -> Response:
        if not gate.own_origin(request.headers):
            return PlainTextResponse("No.", 403)
        if not gate.may_try(address(request.scope)):
            return _form("", "Too many tries. Wait a minute.", 429)
        fields = await _fields(request)
        if fields is None:
            return PlainTextResponse("That is no form of ours.", 400)
        paired = devices.pair(fields.get("code", ""), fields.get("name", ""))
        if paired is None:
            return _form("", "That code is not open. Each works once, for a quarter of an hour.", 403)
        answer = RedirectResponse("/", 303)
        answer.set_cookie(COOKIE, paired[0], max_age=YEAR, secure=True, httponly=True, samesite="strict")
        return answer

    async def who(request: Request) -> Response:
        return PlainTextResponse("paired" if request.scope["device"] else "stranger")

    async def nothing(request: Request) -> Response:
        return Response(status_code=204)

    async def file(request: Request) -> Response:
        name = request.path_params["name"]
        if name == "plain.css":
            return Response(assets()[name].content, media_type=assets()[name].kind)
        asset = None if name in STRANGERS else assets().get(name)
        if request.scope["device"] is None or asset is None:
            return PlainTextResponse("There is nothing here.", 404)
        return Response(asset.content, media_type=asset.kind, headers={"cache-control": "no-cache"})

    async def link(socket: WebSocket) -> None:
        device = socket.scope["device"]
        if device is None:
            await socket.close(1008)
            return
        await links.serve(socket, device)

    routes = [
        Route("/", home),
        Route("/pair", form, methods=["GET"]),
        Route("/pair", pair, methods=["POST"]),
        Route("/who", who),
        Route("/favicon.ico", nothing),
        Route("/{name}", file),
        WebSocketRoute("/link", link),
    ]
    return _site(routes, gate)


def landing(certificates: Certificates, address: str, gate: Gate) -> Starlette:
    """The plain site: how to trust the page, and the certificate to trust."""

    async def home(request: Request) -> Response:
        return HTMLResponse(filled("landing.html", address=address, fingerprint=certificates.fingerprint))

    async def style(request: Request) -> Response:
        return Response(assets()["plain.css"].content, media_type=assets()["plain.css"].kind)

    async def certificate(request: Request) -> Response:
        return Response(certificates.root, media_type="application/x-x509-ca-cert")

    routes = [Route("/", home), Route("/plain.css", style), Route("/rodside.crt", certificate)]
    return _site(routes, gate)


def _site(routes: Sequence[BaseRoute], gate: Gate) -> Starlette:
    site = Starlette(routes=routes, middleware=[Middleware(Guard, gate=gate)])
    site.router.redirect_slashes = False
    return site


def _form(code: str, trouble: str, status: int = 200) -> Response:
    return HTMLResponse(filled("pair.html", code=code, trouble=trouble), status)


async def _fields(request: Request) -> dict[str, str] | None:
    body = b""
    try:
        async with asyncio.timeout(FORM_SECONDS):
            async for piece in request.stream():
                body += piece
                if len(body) > LONGEST_FORM:
                    return None
        return {name: values[0] for name, values in parse_qs(body.decode()).items()}
    except (TimeoutError, ClientDisconnect, ValueError):
        return None
