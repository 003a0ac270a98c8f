"""Which devices may do what: pairing codes that are used once, and the devices that were paired.

Kept in a small database, so that a second process can offer a code or revoke a device while the server runs.
"""

from __future__ import annotations

import hashlib
import secrets
import sqlite3
from collections.abc import Callable
from dataclasses import dataclass
from datetime import datetime, timedelta
from enum import IntEnum
from pathlib import Path

LETTERS = "23456789ABCDEFGHJKMNPQRSTUVWXYZ"
"""Letters and digits that nobody takes for one another."""

LENGTH = 10
"""Letters of a code: 31 ** 10 are 8e14 of them. Tries are limited by address alone, so that no stranger can use up the
owner's: from however many addresses, at 500 a second (more handshakes a core does not do) while three codes wait, the
chance to hit one within its quarter of an hour is 500 * 900 * 3 / 8e14, or one in 600 million."""

LIFE = timedelta(minutes=15)
"""How long a code waits to be used."""

LONGEST_NAME = 30

PATIENCE = 0.5
"""Seconds to wait for another process that writes; the server answers nobody meanwhile."""

_TABLES = """
CREATE TABLE IF NOT EXISTS codes (code TEXT PRIMARY KEY, rights INTEGER NOT NULL, until TEXT NOT NULL) STRICT;
CREATE TABLE IF NOT EXISTS devices (
  token TEXT PRIMARY KEY, name TEXT NOT NULL UNIQUE, rights INTEGER NOT NULL, paired TEXT NOT NULL
) STRICT;
"""


class Rights(IntEnum):
    """What a device may do; each may do what those before may."""

    VIEW = 1
    """See the answers and the book."""
    LISTEN = 2
    """Hear the answers."""
    LOG = 3
    """Talk, type, and so write."""


@dataclass(frozen=True)
class Device:
    """A paired device. `key` tells it from others, and does not let anyone in."""

    key: str
    name: str
    rights: Rights


class Devices:
    """The devices of one server, in the database at `path`. All raise `sqlite3.Error` where that is in trouble."""

    def __init__(self, path: Path, clock: Callable[[], datetime]) -> None:
        self._clock = clock
        path.parent.mkdir(parents=True, exist_ok=True, mode=0o700)
        self._connection = sqlite3.connect(path, isolation_level=None, timeout=PATIENCE)
        path.chmod(0o600)
        self._connection.execute("PRAGMA journal_mode = WAL")  # who reads does not wait for who writes
        self._connection.executescript(_TABLES)

    def offer(self, rights: Rights) -> str:
        """A new code that pairs one device."""
        self._connection.execute("DELETE FROM codes WHERE until < ?", (self._now(),))
        code = "".join(secrets.choice(LETTERS) for _ in range(LENGTH))
        until = (self._clock() + LIFE).isoformat()
        self._connection.execute("INSERT INTO codes VALUES (?, ?, ?)", (code, rights, until))
        return code

    def open_offer(self, rights: Rights) -> str | None:
        """A code that still waits."""
        query = "SELECT code FROM codes WHERE rights = ? AND until >= ? ORDER BY until DESC"
        row = self._connection.execute(query, (rights, self._now())).fetchone()
        return None if row is None else str(row[0])

    def pair(self, code: str, name: str) -> tuple[str, Device] | None:
        """The secret of a new device, for a code that waits; the code is used up. None for any other code."""
        typed = "".join(letter for letter in code.upper() if letter in LETTERS)
        query = "DELETE FROM codes WHERE code = ? AND until >= ? RETURNING rights"
        row = self._connection.execute(query, (typed, self._now())).fetchone()
        if row is None:
            return None
        secret = secrets.token_urlsafe(32)
        device = Device(_digest(secret), self._free_name(name), Rights(row[0]))
        values = (device.key, device.name, device.rights, self._now())
        self._connection.execute("INSERT INTO devices VALUES (?, ?, ?, ?)", values)
        return secret, device

    def device(self, secret: str) -> Device | None:
        """The device that holds this secret."""
        return self._found(_digest(secret))

    def current(self, device: Device) -> Device | None:
        """A device as it is now; none where it was revoked since. Cheap enough to ask at every message."""
        return self._found(device.key)

    def all(self) -> list[Device]:
        """Every device, in the order of pairing."""
        rows = self._connection.execute("SELECT token, name, rights FROM devices ORDER BY paired")
        return [Device(key, name, Rights(rights)) for key, name, rights in rows]

    def revoke(self, name: str) -> bool:
        """Let a device in no more; false where none has that name."""
        return self._connection.execute("DELETE FROM devices WHERE name = ?", (name,)).rowcount > 0

    def close(self) -> None:
        """Let go of the database."""
        self._connection.close()

    def _found(self, key: str) -> Device | None:
        query = "SELECT token, name, rights FROM devices WHERE token = ?"
        row = self._connection.execute(query, (key,)).fetchone()
        return None if row is None else Device(row[0], row[1], Rights(row[2]))

    def _free_name(self, name: str) -> str:
        plain = "".join(letter for letter in name if letter.isprintable()).strip()[:LONGEST_NAME] or "phone"
        taken = {device.name for device in self.all()}
        return next(n for n in (plain, *(f"{plain} {k}" for k in range(2, len(taken) + 3))) if n not in taken)

    def _now(self) -> str:
        return self._clock().isoformat()


def _digest(secret: str) -> str:
    """What is kept of a secret, so that the database lets nobody in."""
    return hashlib.sha256(secret.encode("utf-8", "surrogatepass")).hexdigest()
