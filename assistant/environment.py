"""The outside world, in one object that tests replace whole."""

from __future__ import annotations

import sys
from collections.abc import Callable
from dataclasses import dataclass, field
from datetime import UTC, datetime
from enum import IntEnum
from pathlib import Path
from typing import TextIO

import platformdirs


class ExitStatus(IntEnum):
    """How a command ended."""

    OK = 0
    NOT_UNDERSTOOD = 1
    """At least one utterance was not understood, or a check found something."""
    USAGE = 2
    """The command line is wrong."""
    BOOK = 3
    """The book cannot be opened, read or written."""
    SOUND = 4
    """A sound file or a sound device cannot be used."""
    EARS = 5
    """A recogniser or its model cannot be used."""
    INTERRUPTED = 130
    """Stopped from the keyboard."""


class Trouble(Exception):
    """Something outside went wrong; its text is for the person at hand and says what to do."""

    status = ExitStatus.NOT_UNDERSTOOD
    """How a command ends that cannot go on."""


def now() -> datetime:
    """The time, in UTC."""
    return datetime.now(UTC)


@dataclass
class Environment:
    """Streams, clock and places."""

    stdin: TextIO = field(default_factory=lambda: sys.stdin)
    stdout: TextIO = field(default_factory=lambda: sys.stdout)
    stderr: TextIO = field(default_factory=lambda: sys.stderr)
    clock: Callable[[], datetime] = now
    books: Path = field(default_factory=lambda: Path(platformdirs.user_documents_dir()) / "rodside")
    settings: Path = field(default_factory=lambda: Path(platformdirs.user_config_dir("rodside")) / "settings.toml")
    state: Path = field(default_factory=lambda: Path(platformdirs.user_state_dir("rodside")))
    """What the page's server keeps to itself: certificates and paired devices."""
    cache: Path = field(default_factory=lambda: Path(platformdirs.user_cache_dir("rodside")))
    """What is known of long books, and can be found out anew."""

    def say(self, text: str = "") -> None:
        """Print a line that is an answer."""
        print(text, file=self.stdout, flush=True)

    def warn(self, text: str) -> None:
        """Print a line that is not an answer."""
        print(text, file=self.stderr, flush=True)
