"""The outside world, in one object that tests replace whole."""

from __future__ import annotations

import os
import re
import sys
import traceback
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
    DEFECT = 70
    """Something went wrong inside Rodside itself."""
    INTERRUPTED = 130
    """Stopped from the keyboard."""


class Trouble(Exception):
    """Something outside went wrong; its text is for the person at hand and says what to do."""

    status = ExitStatus.NOT_UNDERSTOOD
    """How a command ends that cannot go on."""


_HIDDEN = re.compile(
    r"[\x00-\x1f\x7f-\x9f\xad\u061c\u200b-\u200f\u2028-\u202e\u2060-\u206f\ud800-\udfff\ufeff\ufff9-\ufffb]"
)
"""What a terminal obeys and does not show: control characters, marks that turn the order, half characters."""

MOST_DETAILS = 1_000_000
"""Bytes of the file of defects, which then begins anew."""


def visible(text: str, keep: str = "") -> str:
    r"""The text with what a terminal would obey as an escape such as \u001b, which means the same within JSON."""
    return _HIDDEN.sub(lambda found: found[0] if found[0] in keep else f"\\u{ord(found[0]):04x}", text)


def own_folder(folder: Path) -> None:
    """Make a folder where there is none, for nobody else to look into. Raises `Trouble`."""
    try:
        folder.mkdir(mode=0o700, parents=True, exist_ok=True)
    except OSError as trouble:
        raise Trouble(f"The folder {folder} cannot be made: {trouble.strerror}; choose another place.") from trouble


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
        """Print a line that is an answer. What a terminal would obey is shown and not obeyed."""
        print(visible(text, keep="\n\t"), file=self.stdout, flush=True)

    def warn(self, text: str) -> None:
        """Print a line that is not an answer."""
        print(visible(text, keep="\n\t"), file=self.stderr, flush=True)

    def failed(self, defect: BaseException) -> None:
        """Tell in one line that Rodside itself went wrong, and keep the details in a file."""
        where = self.state / "defects.log"
        what = visible(f"{type(defect).__name__}: {defect}".strip(": "))[:200]
        try:
            own_folder(self.state)
            kept = "".join(traceback.format_exception(defect))
            again = os.O_TRUNC if where.is_file() and where.stat().st_size > MOST_DETAILS else os.O_APPEND
            descriptor = os.open(where, os.O_WRONLY | os.O_CREAT | again, 0o600)
            with open(descriptor, "w", encoding="utf-8", errors="backslashreplace") as stream:  # noqa: PTH123
                stream.write(f"{self.clock().isoformat()}\n{kept}\n")
            details = f"the details are in {where}"
        except (Trouble, OSError):
            details = f"the details could not be kept in {where}"
        self.warn(f"rodside: Something went wrong inside Rodside: {what}; {details}.")
