"""Asking back: opening a question, and settling it."""

from __future__ import annotations

from dataclasses import replace

from assistant.book.entries import Entry
from assistant.book.exact_json import encode_meaning
from assistant.conversation.turn import Turn
from assistant.job.records import Question
from assistant.wording.asked import alternatives
from assistant.wording.phrase import phrase, reply
from assistant.wording.said import Said
from grammar.meanings import Meaning, Reading

MOST_ATTEMPTS = 2
"""Answers that do not settle a question, after which typing is offered instead of a third."""


def confirm(proposal: Meaning, *asking: Said, replaces: int | None = None) -> Turn:
    """Ask for an explicit "confirm" of one proposal; `replaces` is the entry in whose place it would stand."""
    question = Question("confirm", (proposal,), 0, () if replaces is None else (replaces,))
    return Turn(reply(*asking, asks=True), (_entry(question),))


def which(proposals: tuple[Meaning, ...], replaces: tuple[int | None, ...] = (), *before: Said) -> Turn:
    """Ask which of several was said, digit by digit, after saying why."""
    question = Question("which", proposals, 0, replaces if any(replaces) else ())
    return Turn(reply(*before, alternatives(question), asks=True), (_entry(question),))


def instead(wrong: Reading, entry: int, what: Said) -> Turn:
    """Ask what a reading in the book should be."""
    question = Question("instead", (wrong,), 0, (entry,))
    return Turn(reply(phrase("what instead", what=what), asks=True), (_entry(question),))


def again(question: Question) -> Turn:
    """Ask once more after an answer that did not settle it; in the end offer typing, and let it go."""
    tried = replace(question, attempts=question.attempts + 1)
    if tried.attempts >= MOST_ATTEMPTS:
        return Turn(reply(phrase("type it")), (dismissed(),))
    match tried.kind:
        case "which":
            asking = phrase("digit by digit", alternatives=alternatives(tried))
        case "instead":
            asking = phrase("say what instead")
        case _:
            asking = phrase("confirm or not")
    return Turn(reply(asking, asks=True), (_entry(tried),))


def dismissed() -> Entry:
    """The entry that closes a question with nothing written."""
    return Entry("dismissed", {})


def _entry(question: Question) -> Entry:
    proposals = [encode_meaning(proposal) for proposal in question.proposals]
    told = {"asks": question.kind, "proposals": proposals, "attempts": question.attempts}
    return Entry("question", {**told, "replaces": list(question.replaces)} if question.replaces else told)
