"""The door between the phones, which are many and come and go, and the one talk in its own thread."""

from __future__ import annotations

import asyncio
import logging
from collections.abc import Callable
from concurrent.futures import ThreadPoolExecutor
from contextlib import ExitStack
from dataclasses import dataclass, replace
from pathlib import Path
from time import perf_counter
from typing import Any, TypeVar

from assistant.book.store import Book, Clock
from assistant.hearing.port import Ear
from assistant.page import show
from assistant.page.hearing import Utterance
from assistant.page.profile import profile
from assistant.page.talk import Answer, Origin, Talk, say
from assistant.page.voice import Speaker
from assistant.report import ledger
from assistant.talk.listening import language
from assistant.talk.session import Keep

T = TypeVar("T")

_LOG = logging.getLogger(__name__)

Json = dict[str, Any]


@dataclass(frozen=True)
class Standing:
    """Where the book stands: all that a page needs to draw it."""

    sequence: int
    lines: list[ledger.Line]
    profile: list[Json]

    def as_json(self) -> Json:
        """For a page that knows nothing."""
        lines = [show.line(one) for one in self.lines[-show.LINES :]]
        return {"sequence": self.sequence, "lines": lines, "profile": self.profile}

    def since(self, before: Standing) -> Json:
        """For a page that knows how it stood before."""
        lines = show.changed({one.sequence: one for one in before.lines}, self.lines)
        return {"sequence": self.sequence, "lines": [show.line(one) for one in lines], "profile": self.profile}


class Conversation:
    """Runs everything of the talk in one thread, and the voice in another. Opening raises `BookError`, `EarError`.

    Whatever an utterance makes fail is logged and answered, and the talk is taken up again from the book.
    """

    def __init__(
        self,
        path: Path,
        clock: Clock,
        open_ear: Callable[[], Ear],
        warn: Callable[[str], None],
        keep: Keep | None = None,
        *,
        quiet: bool = False,
        cache: Path | None = None,
    ) -> None:
        self._talking = ThreadPoolExecutor(1, "talk")
        self._speaking = ThreadPoolExecutor(1, "voice")
        self._speaker = None if quiet else Speaker(warn)
        self._open = ExitStack()
        self._keep = keep
        self._book, self._talk, self._ear, self.standing = self._talking.submit(
            self._begun, path, clock, open_ear, keep, cache
        ).result()
        self.greeting = show.answer(self._talk.session.job, Answer("", self._talk.begun, (), missed=False))
        self.last: Json = self.greeting
        if self._speaker is not None:
            self._speaking.submit(self._speaker.wav, "Ready.")

    def _begun(
        self, path: Path, clock: Clock, open_ear: Callable[[], Ear], keep: Keep | None, cache: Path | None
    ) -> tuple[Book, Talk, Ear, Standing]:
        book = self._open.enter_context(Book.open(path, clock, cache=cache))
        try:
            talk, ear = Talk(book, keep), open_ear()
            self._prepare(talk, ear)
            return book, talk, ear, _standing(talk)
        except BaseException:
            self._open.close()
            raise

    async def hear(self, utterance: Utterance, sound: bytes) -> str | None:
        """Feed an utterance; now and then the words so far."""

        def work() -> str | None:
            try:
                return utterance.feed(sound)
            except BaseException:
                _LOG.exception("A piece of sound failed.")
                utterance.broken = True
                return None

        return await self._in_talk(work)

    def utterance(self) -> Utterance:
        """A new utterance to feed."""
        return Utterance(self._ear, self._talk.session)

    async def heard(self, origin: Origin, utterance: Utterance) -> Json:
        """The answer to an utterance that has ended."""

        def work() -> Json:
            if utterance.broken:  # what is left of it may be another number
                return self.failed()
            began = perf_counter()
            heard = utterance.whole()
            seconds = perf_counter() - began
            if heard is None:
                said = say("too long" if utterance.too_long else "nothing said")
                return self._shown(Answer("", said, (), missed=True), began, seconds)
            return self._shown(self._talk.heard(origin, heard, self._ear.name), began, seconds)

        return await self._answered(work)

    async def typed(self, origin: Origin, text: str) -> Json:
        """The answer to an utterance that was typed."""

        def work() -> Json:
            began = perf_counter()
            return self._shown(self._talk.take(origin, [text]), began, 0.0)

        return await self._answered(work)

    async def catch_up(self) -> Json | None:
        """What changed in the book since this was called last; none where nothing did."""
        before = self.standing
        if self._talk.last_sequence == before.sequence:
            return None
        self.standing = await self._in_talk(self._settled)
        return self.standing.since(before)

    async def wav(self, sentence: str) -> bytes | None:
        """A sentence as sound; none where there is no voice, or it fails."""
        speaker = self._speaker
        if speaker is None:
            return None
        try:
            return await asyncio.get_running_loop().run_in_executor(self._speaking, speaker.wav, sentence)
        except Exception:
            _LOG.exception("A sentence could not be spoken.")
            return None

    def failed(self) -> Json:
        """The answer where the program itself failed."""
        answer = Answer("", say("failed"), (), missed=True)
        return {**show.answer(self._talk.session.job, answer), "sequence": self._talk.last_sequence, "ms": {}}

    def close(self) -> None:
        """End the talk and let go of the book."""
        self._speaking.shutdown(wait=False, cancel_futures=True)
        self._talking.submit(self._open.close).result()
        self._talking.shutdown()

    def _settled(self) -> Standing:
        self._talk.settle()
        self._prepare(self._talk, self._ear)
        return _standing(self._talk)

    @staticmethod
    def _prepare(talk: Talk, ear: Ear) -> None:
        """Have the ear learn, while nobody waits, what can be said next: the first time takes it a second."""
        for context in (talk.session.context, replace(talk.session.context, asking=True)):
            ear.prepare(language(context))

    def _shown(self, given: Answer, began: float, heard: float) -> Json:
        shown = show.answer(self._talk.session.job, given)
        ms = {"hear": round(heard * 1000, 1), "all": round((perf_counter() - began) * 1000, 1)}
        self.last = {**shown, "sequence": self._talk.last_sequence, "ms": ms}
        return self.last

    async def _answered(self, work: Callable[[], Json]) -> Json:
        def safely() -> Json:
            try:
                return work()
            except BaseException:  # nothing that one says may end the talk of all
                _LOG.exception("An utterance failed.")
                self._take_up_again()
                return self.failed()

        return await self._in_talk(safely)

    def _take_up_again(self) -> None:
        """What failed half-way may have written and not taken in: the book is what holds."""
        try:
            self._talk = Talk(self._book, self._keep)
        except BaseException:
            _LOG.exception("The talk could not be taken up from the book.")

    async def _in_talk(self, work: Callable[[], T]) -> T:
        return await asyncio.get_running_loop().run_in_executor(self._talking, work)


def _standing(talk: Talk) -> Standing:
    return Standing(talk.last_sequence, talk.lines(), profile(talk.session.job, talk.rows()))
