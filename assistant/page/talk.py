"""The one talk that all phones have part in: every utterance once, in order, and none that was overtaken by events."""

from __future__ import annotations

import tomllib
from collections import OrderedDict
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass, replace
from functools import cache
from importlib.resources import files
from itertools import takewhile

from assistant.book.entries import Row
from assistant.book.store import Book
from assistant.conversation.respond import Writing, respond
from assistant.doubting.evidence import Evidence
from assistant.hearing.port import Samples
from assistant.job.state import Job
from assistant.report import ledger
from assistant.talk.listening import Heard
from assistant.talk.loudness import Loudness
from assistant.talk.session import TYPED, Keep, Session
from assistant.wording.asked import CORRECTING
from assistant.wording.phrase import joined, reply
from assistant.wording.said import Reply, Said
from grammar.meanings import Miss, Scratch
from grammar.understand import Context, understand

AT_HAND = 2_000
"""Entries at the end of a book that are at hand from its opening on; what is older is read when asked for."""

BEARING_KEPT = 100
"""Set-ups and checks before those, by which it is told what is unproven: more than anybody takes back."""

MOST_LIVES = 200
"""Lives of pages whose last trouble is remembered."""


@dataclass(frozen=True)
class Origin:
    """Where an utterance comes from: a life of a page, the number there, and what had been shown when it began."""

    life: str
    number: int
    after: int
    seen: int

    @property
    def id(self) -> str:
        """What the book calls it, so that it is never taken twice."""
        return f"page/{self.life}/{self.number}"


@dataclass(frozen=True)
class Answer:
    """What became of an utterance. `missed` tells that nothing of it was understood or taken."""

    heard: str
    reply: Reply
    rows: tuple[Row, ...]
    missed: bool
    writing: bool = False


class Talk:
    """A session over a book, for pages. All of it belongs to the thread that opened the book."""

    def __init__(self, book: Book, keep: Keep | None = None) -> None:
        self._book = book
        self.session = Session(book, keep)
        self.begun = self.session.begin()
        if keep is not None and not book.has_sound():
            self.begun = joined(self.begun, text_of("sound is kept"))
        self._loudness = Loudness()
        self._start = max(0, book.head()[0] - AT_HAND)
        self._bearing = ledger.standing_before(book, self._start, BEARING_KEPT)
        self._rows: list[Row] = []
        self._authors: list[tuple[int, str | None]] = []
        self._written: dict[str, tuple[Row, ...]] = {}
        self._troubles: OrderedDict[str, tuple[int, str]] = OrderedDict()
        for row in book.rows(after=self._start):
            self._note(row)

    @property
    def last_sequence(self) -> int:
        """The number of the last entry."""
        return self._authors[-1][0] if self._authors else 0

    def rows(self) -> list[Row]:
        """The entries at hand: all of a day's book."""
        return list(self._rows)

    def lines(self) -> list[ledger.Line]:
        """Their lines."""
        return [line for line in ledger.lines([*self._bearing, *self._rows]) if line.sequence > self._start]

    def settle(self) -> None:
        """Tidy the book while nobody waits."""
        self.session.settle()

    def heard(self, origin: Origin, heard: Heard, engine: str) -> Answer:
        """Take one utterance as it sounds; whoever holds a button is always answered, where all was noise too."""
        answer = self.take(origin, heard.guesses, engine, heard.sound, heard.evidence)
        if not answer.reply.shown:
            return Answer("", say("nothing said"), (), missed=True)
        remark = self._loudness.remark(heard.evidence, answer.reply)
        return answer if remark is None else replace(answer, reply=joined(answer.reply, remark))

    def take(
        self,
        origin: Origin,
        guesses: Sequence[str],
        engine: str = TYPED,
        sound: Samples | None = None,
        evidence: Evidence | None = None,
    ) -> Answer:
        """Take one utterance as guesses at its words; one that the book already holds is answered as before."""
        known = self._known(origin)
        if known:
            answer = self._recovered(known)
        else:
            answer = self._overtaken(origin, guesses) or self._new(origin, guesses, engine, sound, evidence)
        if answer.missed or answer.reply.asks or (answer.writing and not answer.rows):
            self._troubles[origin.life] = (origin.number, answer.reply.shown)
            self._troubles.move_to_end(origin.life)
            if len(self._troubles) > MOST_LIVES:
                self._troubles.popitem(last=False)
        return answer

    def _new(
        self,
        origin: Origin,
        guesses: Sequence[str],
        engine: str,
        sound: Samples | None = None,
        evidence: Evidence | None = None,
    ) -> Answer:
        outcome = self.session.utterance(guesses, engine, sound, evidence, origin.id)
        for row in outcome.rows:
            self._note(row)
        writing = isinstance(outcome.meaning, Writing | Scratch | CORRECTING)
        return Answer(outcome.heard, outcome.reply, outcome.rows, isinstance(outcome.meaning, Miss), writing)

    def _known(self, origin: Origin) -> tuple[Row, ...]:
        """What the book holds of an utterance; it was written after what had been shown when it began."""
        known = self._written.get(origin.id, ())
        if known or origin.seen >= self._start:
            return known
        return tuple(self._book.rows_from(origin.id, origin.seen, self._start))

    def _newer(self, seen: int) -> Iterator[str | None]:
        """The lives that wrote the entries after number `seen`, latest first as far as they are at hand."""
        yield from (life for _, life in takewhile(lambda entry: entry[0] > seen, reversed(self._authors)))
        if seen < self._start:
            yield from (_life(row) for row in self._book.rows(after=seen, until=self._start))

    def _overtaken(self, origin: Origin, guesses: Sequence[str]) -> Answer | None:
        """The refusal of what was said in ignorance of another's entries, or of a question or a miss before it."""
        heard = guesses[0] if guesses else ""
        if any(life != origin.life for life in self._newer(origin.seen)):
            return Answer(heard, say("another wrote"), (), missed=True)
        number, before = self._troubles.get(origin.life, (0, ""))
        if origin.after < number < origin.number:
            return Answer(heard, say("said too soon", before=before.rstrip(".")), (), missed=True)
        return None

    def _recovered(self, rows: tuple[Row, ...]) -> Answer:
        first = rows[0]
        before = self._book.rows(until=first.sequence - 1)
        return Answer(first.heard or "", repeated(rows, before), rows, missed=False, writing=True)

    def _note(self, row: Row) -> None:
        life = _life(row)
        self._rows.append(row)
        self._authors.append((row.sequence, life))
        if life is not None:
            origin = _origin(row)
            self._written[origin] = (*self._written.get(origin, ()), row)


def _origin(row: Row) -> str:
    """What the book calls the utterance of an entry, if it has a name."""
    return (row.engine or "").partition(" ")[2]


def _life(row: Row) -> str | None:
    """The life of the page that an entry came from, if it came from one."""
    parts = _origin(row).split("/")
    return parts[1] if len(parts) == 3 and parts[0] == "page" else None


def repeated(rows: Sequence[Row], before: Iterable[Row]) -> Reply:
    """The reply that was given when `rows` were written; `before` are the entries before them.

    The book keeps only what was shown. What was spoken is worked out anew, and let out only if it is of one piece with
    what was shown then.
    """
    first = rows[0]
    job = Job.folded(before)
    again = respond(job, understand(first.heard or "", Context(job.marking, asking=job.question is not None)))
    if again.reply.shown == first.reply:
        return again.reply
    return Reply(first.reply, say("it is written").spoken, asks=rows[-1].kind == "question")


def say(name: str, **values: str) -> Reply:
    """A reply of the server itself, the same shown and spoken."""
    return reply(text_of(name, **values))


def text_of(name: str, **values: str) -> Said:
    """A text of the server itself, the same shown and spoken."""
    text = _texts()[name].format(**values)
    return Said(text, text)


@cache
def _texts() -> dict[str, str]:
    return tomllib.loads(files("assistant.page").joinpath("replies.toml").read_text("utf-8"))
