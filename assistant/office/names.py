"""Names and texts of others, made fit for the office, for a path and for a terminal. What is not printable moves a
cursor, breaks a line or turns its direction round."""

from __future__ import annotations

import re

LONGEST_NAME = 100
"""Letters of the name of a book in the office."""

LONGEST_PART = 120
"""Bytes of a name in a path; the file systems of today take 255."""

LONGEST_LINE = 500
"""Letters of a text that is shown."""


def named(name: str) -> str:
    """The name of a book as the office takes it."""
    return _printable(name, "_")[:LONGEST_NAME] or "_"


def part_of_path(name: object) -> str:
    """A name that leads to no other folder."""
    whole = re.sub(r"[^\w .-]", "_", str(name)).encode("utf-8", "replace")
    return whole[:LONGEST_PART].decode("utf-8", "ignore").strip(". ") or "_"


def shown(text: object) -> str:
    """A text on one line."""
    return _printable(str(text)[:LONGEST_LINE], "\ufffd")


def _printable(text: str, instead: str) -> str:
    return "".join(letter if letter.isprintable() else instead for letter in text)
