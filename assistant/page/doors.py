"""Who holds a connection: each is counted from the moment it is accepted, before any handshake, until it is closed."""

from __future__ import annotations

import logging
import socket
from collections import Counter
from contextlib import suppress
from typing import Any

from assistant.page.limits import Allowance

MOST_FROM_ONE = 40
"""Connections of strangers from one address. A browser opens six."""

MOST_STRANGERS = 128
"""Connections in all that are not yet a paired phone's."""

GOING = 32
"""Connections more, of those that were told to go and are not gone yet."""

AT_ONCE = 25
"""Connections turned away before others get their turn."""

WAITING = 256
"""Connections that the system keeps for us until we accept them."""

_LOG = logging.getLogger(__name__)


class Door(socket.socket):
    """A listening socket that lets in only so many: from each address, and in all.

    Whoever comes in is a stranger until `knows` says otherwise. Where strangers hold all places, that one goes who has
    waited longest of the address that holds most, so that a crowd keeps nobody out who comes alone.
    """

    def __init__(self, address: str, port: int) -> None:
        super().__init__(socket.AF_INET)
        self._strangers: dict[Connection, None] = {}
        self._going: set[Connection] = set()
        self._from: Counter[str] = Counter()
        self._arrivals = Allowance(rate=20, burst=120)
        self.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
        try:
            self.bind((address, port))
        except OSError:
            self.close()
            raise

    def listen(self, backlog: int = WAITING) -> None:
        """Listen; how many are accepted in one turn of the loop (`backlog`) is not how many may wait."""
        super().listen(max(backlog, WAITING))

    def accept(self) -> tuple[socket.socket, Any]:
        """The next connection that is let in; `BlockingIOError` where none waits, as with any socket."""
        for _ in range(AT_ONCE):
            plain, peer = super().accept()
            if self._has_room(peer[0]):
                connection = Connection(self, plain, peer)
                self._strangers[connection] = None
                self._from[peer[0]] += 1
                return connection, peer
            plain.close()
            _LOG.warning("Connections were turned away, the last from %s: too many.", peer[0])
        raise BlockingIOError

    def knows(self, peer: tuple[str, int]) -> None:
        """A connection is a paired phone's; those are counted by phone (`Links`)."""
        for one in [one for one in self._strangers if one.peer == peer]:
            self.left(one)

    def left(self, connection: Connection) -> None:
        """A connection is a stranger's no more."""
        if connection in self._strangers:
            del self._strangers[connection]
            self._from[connection.peer[0]] -= 1
            self._from += Counter()  # forget whoever holds none
        self._going.discard(connection)

    def _has_room(self, address: str) -> bool:
        if self._from[address] >= MOST_FROM_ONE or not self._arrivals.take(address):
            return False
        if len(self._going) >= GOING:
            return False
        if len(self._strangers) >= MOST_STRANGERS:
            crowd = self._from.most_common(1)[0][0]
            longest = next(one for one in self._strangers if one.peer[0] == crowd)
            with suppress(OSError):  # it may be over already
                longest.shutdown(socket.SHUT_RDWR)
            self.left(longest)
            self._going.add(longest)
        return True


class Connection(socket.socket):
    """A connection that tells its door when it is closed."""

    def __init__(self, door: Door, plain: socket.socket, peer: tuple[str, int]) -> None:
        super().__init__(plain.family, plain.type, plain.proto, fileno=plain.detach())
        self.peer = peer
        self._door = door

    def close(self) -> None:
        """Close, once or again."""
        super().close()
        self._door.left(self)
