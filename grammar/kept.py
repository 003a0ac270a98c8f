"""Files that keep what was worked out from the grammar, between runs. Nothing is lost without them but time."""

from __future__ import annotations

import json
import os
import tempfile
from hashlib import sha256
from importlib.resources import files
from pathlib import Path
from typing import Any

from platformdirs import user_cache_dir

GRAMMAR = ("sentences.lark", "words.toml", "unsaid.py", "automaton.py")
"""What the kept automata are made from, and by."""


def place(name: str) -> Path | None:
    """Where to keep a file of this name; none where nothing can be kept, or others could change what is kept."""
    folder = Path(user_cache_dir("rodside"))
    try:
        folder.mkdir(mode=0o700, parents=True, exist_ok=True)
        return folder / name if _is_our_own(folder) else None
    except OSError:
        return None


def _is_our_own(folder: Path) -> bool:
    if os.name != "posix":
        return True
    status = folder.stat()
    return status.st_uid == os.geteuid() and not status.st_mode & 0o022


def read(name: str) -> Any:
    """What was kept under a name, unless the grammar has changed since."""
    path = place(name)
    try:
        kept = json.loads(path.read_bytes()) if path else {}
        return kept["what"] if kept["grammar"] == _grammar() else None
    except (OSError, ValueError, KeyError, TypeError):
        return None


def write(name: str, what: Any) -> None:
    """Keep something that JSON can tell, whole or not at all."""
    path = place(name)
    if path is None:
        return
    part = None
    try:
        with tempfile.NamedTemporaryFile("w", dir=path.parent, suffix=".part", delete=False) as stream:
            part = Path(stream.name)
            json.dump({"grammar": _grammar(), "what": what}, stream, separators=(",", ":"))
        part.replace(path)
    except OSError:
        if part is not None:
            part.unlink(missing_ok=True)


def _grammar() -> str:
    return sha256(b"".join(files("grammar").joinpath(name).read_bytes() for name in GRAMMAR)).hexdigest()
