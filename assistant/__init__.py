"""Rodside, for programs: open a book, say a sentence or have a recording heard, and read what became of it.

    from pathlib import Path
    from assistant import Book, Session, hear

    with Book.open(Path("day.rodside")) as book:
        session = Session(book)
        session.begin()
        outcome = session.say("rod in feet and inches")
        print(outcome.reply.shown, [row.kind for row in outcome.rows])
        for outcome in hear(session, Path("said.wav")):
            print(outcome.heard, outcome.reply.shown)

Nothing that is said or heard raises; what cannot be opened raises a `Trouble`, whose text is for a person.
"""

from __future__ import annotations

from importlib import import_module
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from assistant.book.store import Book
    from assistant.environment import Trouble
    from assistant.talk.listening import hear
    from assistant.talk.session import Outcome, Session

__all__ = ["Book", "Outcome", "Session", "Trouble", "hear"]

_ROOMS = {
    "Book": "assistant.book.store",
    "Outcome": "assistant.talk.session",
    "Session": "assistant.talk.session",
    "Trouble": "assistant.environment",
    "hear": "assistant.talk.listening",
}


def __getattr__(name: str) -> Any:
    """Each is imported when it is first asked for: a command that needs no ear starts without one."""
    if name not in _ROOMS:
        raise AttributeError(f"module 'assistant' has no attribute {name!r}")
    return getattr(import_module(_ROOMS[name]), name)
