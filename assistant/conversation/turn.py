"""What one utterance leads to."""

from __future__ import annotations

from dataclasses import dataclass, field

from assistant.book.entries import Entry
from grammar.meanings import Meaning


@dataclass(frozen=True)
class Said:
    """The same thing in figures and in words."""

    shown: str
    spoken: str


@dataclass(frozen=True)
class Reply:
    """An answer as shown and as spoken. `asks` tells that an answer is awaited."""

    shown: str
    spoken: str
    asks: bool = False


@dataclass(frozen=True)
class Turn:
    """Entries to write, all or none, before the reply is given; then what becomes of the talk."""

    reply: Reply
    entries: tuple[Entry, ...] = field(default=())
    asleep: bool = False
    over: bool = False
    asked: Meaning | None = None
    """The question about the job that was answered, for it may be put right by "no, at fifty"."""
