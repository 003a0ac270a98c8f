"""What one utterance leads to."""

from __future__ import annotations

from dataclasses import dataclass, field

from assistant.book.entries import Entry
from assistant.wording.said import Reply
from grammar.meanings import Meaning


@dataclass(frozen=True)
class Turn:
    """Entries to write, all or none, before the reply is given; then what becomes of the talk."""

    reply: Reply
    entries: tuple[Entry, ...] = field(default=())
    asleep: bool = False
    over: bool = False
    asked: Meaning | None = None
    """The question about the job that was answered, for it may be put right by "no, at fifty"."""
