"""One talk over one book: each utterance is understood, decided, written, and only then answered."""

from __future__ import annotations

import logging
from collections.abc import Callable, Sequence
from dataclasses import dataclass, field, replace
from time import perf_counter
from typing import TYPE_CHECKING, Any

from assistant.book.entries import Entry, Row
from assistant.book.errors import BookError
from assistant.book.exact_json import encode_meaning
from assistant.book.store import Book
from assistant.conversation import Turn, respond
from assistant.doubting.evidence import Evidence
from assistant.doubting.judge import Decision, Verdict, judge
from assistant.job.snapshot import opened
from assistant.talk.resuming import where_it_was
from assistant.wording.asked import CORRECTING
from assistant.wording.phrase import joined, phrase, reply
from assistant.wording.said import Reply, Said
from grammar import sound_alikes
from grammar.lexer import LONGEST
from grammar.meanings import Again, Cancel, Meaning, Miss
from grammar.understand import Context, understand

if TYPE_CHECKING:  # a typed line needs no numbers of a sound
    from assistant.hearing.port import Samples

log = logging.getLogger(__name__)

Keep = Callable[["Samples"], str | None]
"""Keeps the sound of an utterance of which something is written, and tells its name in the book."""

TYPED = "typed"
"""The engine of what was typed: nothing of it can have been misheard."""


DOUBTFUL = ("doubtful", "doubtful twice", "doubtful thrice")
"""Why an utterance is not believed the first time, the second, the third; each names its reply."""


@dataclass(frozen=True)
class Outcome:
    """What became of one utterance. `ms` are milliseconds by stage."""

    heard: str
    meaning: Meaning | Miss
    reply: Reply
    rows: tuple[Row, ...]
    over: bool
    ms: dict[str, float] = field(default_factory=dict)

    @property
    def understood(self) -> bool:
        """Whether the words had a meaning."""
        return not isinstance(self.meaning, Miss)

    def as_json(self) -> dict[str, Any]:
        """The documented object of `--json`."""
        miss = self.meaning if isinstance(self.meaning, Miss) else None
        return {
            "heard": self.heard,
            "understood": self.understood,
            "meaning": {"kind": "miss", "reason": miss.reason, "about": miss.about}
            if miss
            else encode_meaning(self.meaning),  # type: ignore[arg-type]
            "reply": self.reply.shown,
            "spoken": self.reply.spoken,
            "entries": [{"sequence": row.sequence, "kind": row.kind, "payload": row.payload} for row in self.rows],
            "asks": self.reply.asks,
            "ms": {stage: round(spent, 2) for stage, spent in self.ms.items()},
        }

    def remarked(self, remark: Said | None) -> Outcome:
        """The same outcome, with a remark after its reply."""
        return self if remark is None else replace(self, reply=joined(self.reply, remark))

    def timed(self, stage: str, seconds: float) -> Outcome:
        """The same outcome, with the time of one more stage."""
        return replace(self, ms={stage: seconds * 1000, **self.ms})


HOPELESS = 0.7
"""The probability of being wrong from which a doubtful utterance is taken for noise, and not answered. Our own choice:
a site that is answered all day is worse than one sentence more to be said again."""


EVEN = 0.5
"""The probability of being wrong from which a short one is taken for noise: it is likelier wrong than right."""

SHORT = 4
"""Words of a doubtful utterance that, where any sounds fit about as well, half of the listenings heard nothing, or it
is likelier wrong than right, is taken for noise. Of 11,000 sentences of people 8 were so short and likelier wrong, 4 of
them misheard; of 90 times that noise and other talk had a meaning, 86."""


def _is_noise(evidence: Evidence, verdict: Verdict) -> bool:
    tells_nothing = isinstance(verdict.meaning, Miss) or verdict.wrong > HOPELESS
    if tells_nothing and (evidence.is_noise or evidence.is_like_any_sound):
        return True
    if verdict.decision is Decision.WRITE:
        return False
    words = len(verdict.text.split())
    tells_little = evidence.is_like_any_sound or evidence.is_faint or verdict.wrong > EVEN
    # with no question open there is nothing to let go; a whole sentence is asked for again, whatever it was
    return words == 1 or isinstance(verdict.meaning, Cancel) or (words <= SHORT and tells_little)


def _trouble(trouble: BookError) -> Reply:
    return reply(phrase("book trouble", trouble=Said(str(trouble), str(trouble))))


class Session:
    """A talk. Raises `BookError` only when it begins; later troubles of the book are replies.

    With `doubting` off the first guess is believed: only to measure what the doubt is worth.
    """

    def __init__(self, book: Book, keep: Keep | None = None, *, doubting: bool = True) -> None:
        self._book = book
        self._keep = keep
        self.doubting = doubting
        self._unbelieved: Meaning | None = None
        self._doubtful = 0
        self._told = False
        self._last: Reply | None = None
        self._asked: Meaning | None = None
        self._asleep = False
        self._written: tuple[Row, ...] = ()
        self._stale = False
        self.job = opened(book)

    @property
    def context(self) -> Context:
        """What the next utterance will be understood in."""
        return Context(self.job.marking, asking=self.job.question is not None)

    def begin(self) -> Reply:
        """Open a new job with its cautions, or say where an old one stands and what it waits for."""
        if self.job.opened:
            return self._answer(where_it_was(self.job), heard=None, engine=None)[0]
        caution = Turn(reply(phrase("caution")), (Entry("opened", {"cautions": "given"}),))
        return self._answer(caution, heard=None, engine=None)[0]

    def utterance(
        self,
        guesses: Sequence[str],
        engine: str = TYPED,
        sound: Samples | None = None,
        evidence: Evidence | None = None,
        origin: str | None = None,
    ) -> Outcome:
        """Take one utterance, as guesses at its words, best first; only a `sound` gives more than one, and evidence.

        `origin` names the utterance where it may come twice; the book keeps it after the name of the engine. A mistake
        of ours in here is logged and answered, and the talk goes on.
        """
        guesses = [guess[: LONGEST + 1] for guess in guesses]  # beyond it, it is too long all the same
        self._written = ()
        try:
            return self._taken(guesses, engine, sound, evidence, origin)
        except Exception:
            log.exception("failed on %r", guesses)
            return self._failed(guesses[0] if guesses else "")

    def say(self, text: str) -> Outcome:
        """Take one utterance that was typed."""
        return self.utterance([text])

    def _taken(
        self,
        guesses: Sequence[str],
        engine: str,
        sound: Samples | None,
        evidence: Evidence | None,
        origin: str | None,
    ) -> Outcome:
        if self._stale:
            self.job, self._stale = opened(self._book), False
        began = perf_counter()
        verdict = self._verdict(guesses, engine, evidence)
        heard, meaning = verdict.text, self._believed(verdict)
        understood = perf_counter()
        if evidence is not None and self._is_passed_over(evidence, verdict, meaning):
            turn = Turn(Reply("", ""), asleep=self._asleep)
        else:
            turn = self._turn(meaning, verdict)
            if turn.asked is not None or turn.entries or not isinstance(meaning, Miss | Again | CORRECTING):
                self._asked = turn.asked
        decided = perf_counter()
        answer, rows = self._answer(turn, heard, engine if origin is None else f"{engine} {origin}", sound)
        stages = {
            "understand": understood - began,
            "decide": decided - understood,
            "write": perf_counter() - decided,
        }
        ms = {stage: seconds * 1000 for stage, seconds in stages.items()}
        return Outcome(heard, meaning, answer, rows, turn.over, ms)

    def _failed(self, heard: str) -> Outcome:
        """What is answered after a mistake of ours: whether anything was written. The job is then folded anew."""
        self._stale = True
        answer = reply(phrase("failed after writing" if self._written else "failed"))
        self._last = answer
        return Outcome(heard, Miss("failed", ""), answer, self._written, over=False)

    def _turn(self, meaning: Meaning | Miss, verdict: Verdict) -> Turn:
        try:
            return respond(
                self.job, meaning, rivals=verdict.rivals, last=self._last, asked=self._asked, asleep=self._asleep
            )
        except BookError as trouble:  # of a long book, what is old is read only now
            return Turn(_trouble(trouble), asleep=self._asleep)

    def _is_passed_over(self, evidence: Evidence, verdict: Verdict, meaning: Meaning | Miss) -> bool:
        """Whether nothing is answered: to noise, and with a question open to all but the first that was no answer."""
        if self.job.question is None:
            return _is_noise(evidence, verdict)
        nothing = isinstance(meaning, Miss) and meaning.reason == "nothing"
        told, self._told = self._told, nothing
        return nothing and told

    def _verdict(self, guesses: Sequence[str], engine: str, evidence: Evidence | None) -> Verdict:
        """What to make of the words: of sound by all the evidence, or else by what its guesses and words could be."""
        if evidence is not None and self.doubting:
            return judge(evidence, self.context, self.job, self._unbelieved)
        heard = guesses[0] if guesses else ""
        rivals = sound_alikes.rivals(guesses, self.context) if guesses and engine != TYPED and self.doubting else ()
        return Verdict(Decision.WRITE, heard, understand(heard, self.context), rivals)

    def _believed(self, verdict: Verdict) -> Meaning | Miss:
        """The meaning, or a miss that has it said again: at once, then digit by digit, and at last typed."""
        if isinstance(verdict.meaning, Miss) or verdict.decision is Decision.WRITE:
            self._unbelieved, self._doubtful = None, 0
            return verdict.meaning
        if verdict.decision is Decision.ASK:  # said again in answer to the question, it is likelier
            self._unbelieved, self._doubtful = verdict.meaning, 0
            return verdict.meaning
        if verdict.wrong > HOPELESS and self.job.question is not None:
            return Miss("nothing", "")  # noise is no answer: it uses up no attempt
        self._unbelieved = verdict.meaning
        self._doubtful = self._doubtful % len(DOUBTFUL) + 1
        return Miss(DOUBTFUL[self._doubtful - 1], verdict.text)

    def settle(self) -> None:
        """Tidy the book while nobody waits: after the answer was given."""
        self._book.settle()

    def _answer(
        self, turn: Turn, heard: str | None, engine: str | None, sound: Samples | None = None
    ) -> tuple[Reply, tuple[Row, ...]]:
        """Write, and only then let the reply out."""
        rows: tuple[Row, ...] = ()
        answer = turn.reply
        if turn.entries:
            try:
                audio = None if sound is None or self._keep is None else self._keep(sound)
                rows = self._book.append(turn.entries, heard=heard, engine=engine, audio=audio, reply=answer.shown)
            except BookError as trouble:
                return _trouble(trouble), ()
        self._written = rows
        for row in rows:
            self.job.apply(row)
        self._asleep = turn.asleep
        self._last = answer if answer.shown else self._last
        return answer, rows
