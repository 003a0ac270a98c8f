"""The files of the page, in memory."""

from __future__ import annotations

import hashlib
import html
from dataclasses import dataclass
from functools import cache
from importlib.resources import files

KINDS = {
    "html": "text/html; charset=utf-8",
    "css": "text/css; charset=utf-8",
    "js": "text/javascript; charset=utf-8",
    "svg": "image/svg+xml",
    "png": "image/png",
    "webmanifest": "application/manifest+json",
}

STRANGERS = frozenset({"pair.html", "landing.html", "plain.css"})
"""What is not of the paired page."""


@dataclass(frozen=True)
class Asset:
    """A file and its media type."""

    content: bytes
    kind: str


@cache
def assets() -> dict[str, Asset]:
    """Every file by its name. Where `{version}` stands, the hash of all of them takes its place."""
    folder = files("assistant.page") / "static"
    found = {entry.name: entry.read_bytes() for entry in folder.iterdir() if entry.name.rpartition(".")[2] in KINDS}
    version = hashlib.sha256(b"".join(found[name] for name in sorted(found))).hexdigest()[:16]
    return {
        name: Asset(content.replace(b"{version}", version.encode()), KINDS[name.rpartition(".")[2]])
        for name, content in found.items()
    }


def filled(name: str, **values: str) -> str:
    """A page for strangers, with values in place of `{names}`."""
    text = assets()[name].content.decode()
    for key, value in values.items():
        text = text.replace(f"{{{key}}}", html.escape(value))
    return text
