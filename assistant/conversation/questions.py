"""Asking back: opening a question, and settling it."""

from __future__ import annotations

from dataclasses import fields, replace
from typing import Any

from assistant.book.entries import Entry
from assistant.book.exact_json import encode_meaning
from assistant.conversation.repairs import CORRECTING, as_answer, differing, names
from assistant.conversation.turn import Turn
from assistant.job.records import Question
from assistant.wording.phrase import digits, figures, listed, phrase, reply
from assistant.wording.said import Said
from grammar.meanings import Answer, Meaning, Reading
from grammar.quantities import Length, Slope, Spot, Station

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


def settled_by(question: Question, meaning: Meaning) -> Meaning | None:
    """The proposal that `meaning` names, if it names exactly one."""
    if meaning in question.proposals:
        return meaning
    answer = as_answer(meaning) if isinstance(meaning, CORRECTING) else meaning
    if not isinstance(answer, Answer) or question.kind == "instead":
        return None
    named = [
        proposal
        for proposal, values in zip(question.proposals, _told_apart(question), strict=True)
        if any(names(answer, value) for value in values)
    ]
    return named[0] if len(named) == 1 else None


def can_be_named(proposals: tuple[Meaning, ...]) -> bool:
    """Whether an answer can say which is meant: they differ in lengths, places or slopes."""
    values = (getattr(proposal, name, None) for name in differing(proposals) for proposal in proposals)
    return all(value is None or isinstance(value, Length | Station | Spot | Slope) for value in values)


def another_reading(question: Question, meaning: Meaning) -> Reading | None:
    """A new reading for the same place, when a bare length answers the doubt about a reading."""
    first = question.proposals[0]
    if (
        question.kind in ("confirm", "instead")
        and isinstance(first, Reading)
        and isinstance(meaning, Answer)
        and meaning.length is not None
    ):
        return replace(first, length=meaning.length)
    return None


def _entry(question: Question) -> Entry:
    proposals = [encode_meaning(proposal) for proposal in question.proposals]
    told = {"asks": question.kind, "proposals": proposals, "attempts": question.attempts}
    return Entry("question", {**told, "replaces": list(question.replaces)} if question.replaces else told)


def alternatives(question: Question) -> Said:
    """The choice, digit by digit: "one five, or five zero?"; in full where more than one number differs."""
    return phrase("which", alternatives=listed(_names(question)))


def as_asked(question: Question) -> list[str]:
    """The words by which the question itself names each of its proposals."""
    return [name.spoken.lower() for name in _names(question)]


def _names(question: Question) -> list[Said]:
    """Each proposal as it is offered. A unit that all share is not said: it can only be misheard."""
    told = _told_apart(question)
    lengths = [values[0] for values in told if len(values) == 1 and isinstance(values[0], Length)]
    short = [name for length in lengths if (name := figures(length)) is not None]
    if len(short) == len(told) and len({length.marking for length in lengths}) == 1:
        return short
    return [_together(values) for values in told]


def _told_apart(question: Question) -> list[list[Any]]:
    """The values of each proposal in which they differ; of a single one, what was read."""
    proposals = question.proposals
    if len({type(proposal) for proposal in proposals}) > 1:
        return [[value for f in fields(one) if (value := getattr(one, f.name)) is not None] for one in proposals]
    different = differing(proposals) or [fields(proposals[0])[0].name]
    if len(different) == 1:
        return [[getattr(proposal, different[0], None)] for proposal in proposals]
    return [[value for name in different if (value := getattr(one, name, None)) is not None] for one in proposals]


def _together(values: list[Any]) -> Said:
    if len(values) == 2 and isinstance(values[0], Length) and isinstance(values[1], Station | Spot):
        return phrase("reading at", reading=digits(values[0]), station=digits(values[1]))
    return listed([_said(value) for value in values], last="and")


def _said(value: object) -> Said:
    match value:
        case Length() | Station() | Spot() | Slope():
            return digits(value)
        case None:
            return phrase("none of them")
        case _:
            return Said(str(value), str(value))
