"""Asking back: opening a question, and settling it."""

from __future__ import annotations

from dataclasses import fields, replace
from typing import Any

from assistant.book.entries import Entry
from assistant.conversation.phrase import digits, listed, phrase, reply, slope
from assistant.conversation.turn import Said, Turn
from assistant.exact_json import encode_meaning
from assistant.records import Question, feet
from grammar.meanings import Answer, Meaning, Reading
from grammar.quantities import Length, Slope, Spot, Station

MOST_ATTEMPTS = 2
"""Answers that do not settle a question, after which typing is offered instead of a third."""


def confirm(proposal: Meaning, *asking: Said) -> Turn:
    """Ask for an explicit "confirm" of one proposal."""
    question = Question("confirm", (proposal,), 0)
    return Turn(reply(*asking, asks=True), (_entry(question),))


def which(proposals: tuple[Meaning, ...]) -> Turn:
    """Ask which of several was said, digit by digit."""
    question = Question("which", proposals, 0)
    return Turn(reply(alternatives(question), asks=True), (_entry(question),))


def again(question: Question) -> Turn:
    """Ask once more after an answer that did not settle it; in the end offer typing, and let it go."""
    tried = replace(question, attempts=question.attempts + 1)
    if tried.attempts >= MOST_ATTEMPTS:
        return Turn(reply(phrase("type it")), (dismissed(),))
    asking = (
        phrase("digit by digit", alternatives=alternatives(tried))
        if tried.kind == "which"
        else phrase("confirm or not")
    )
    return Turn(reply(asking, asks=True), (_entry(tried),))


def dismissed() -> Entry:
    """The entry that closes a question with nothing written."""
    return Entry("dismissed", {})


def settled_by(question: Question, meaning: Meaning) -> Meaning | None:
    """The proposal that `meaning` names, if it names exactly one."""
    if meaning in question.proposals:
        return meaning
    if not isinstance(meaning, Answer):
        return None
    named = [
        proposal
        for proposal, value in zip(question.proposals, _differing(question), strict=True)
        if _names(meaning, value)
    ]
    return named[0] if len(named) == 1 else None


def another_reading(question: Question, meaning: Meaning) -> Reading | None:
    """A new reading for the same place, when a bare length answers the doubt about a reading."""
    first = question.proposals[0]
    if (
        question.kind == "confirm"
        and isinstance(first, Reading)
        and isinstance(meaning, Answer)
        and meaning.length is not None
    ):
        return replace(first, length=meaning.length)
    return None


def _entry(question: Question) -> Entry:
    proposals = [encode_meaning(proposal) for proposal in question.proposals]
    return Entry(
        "question",
        {"asks": question.kind, "proposals": proposals, "attempts": question.attempts},
    )


def alternatives(question: Question) -> Said:
    """The choice, digit by digit: "one five, or five zero?"."""
    return phrase("which", alternatives=listed([_said(value) for value in _differing(question)]))


def _differing(question: Question) -> list[Any]:
    """The value of each proposal in which they differ; of a single one, what was read."""
    first = question.proposals[0]
    for field in fields(first):
        values = [getattr(proposal, field.name, None) for proposal in question.proposals]
        if any(value != values[0] for value in values) or len(values) == 1:
            return values
    raise ValueError("the proposals of a question are all the same")


def _said(value: object) -> Said:
    match value:
        case Length() | Station() | Spot():
            return digits(value)
        case Slope():
            return slope(value)
        case None:
            return phrase("none of them")
        case _:
            return Said(str(value), str(value))


def _names(answer: Answer, value: object) -> bool:
    match value:
        case Length():
            if answer.length is not None and feet(answer.length) == feet(value):
                return True
            # "nine zero" is 9.0 ft on a rod, and 90 ft where that was asked.
            place = answer.station
            return isinstance(place, Station) and place.distance.amount == value.amount
        case Station():
            at, said = feet(value.distance), answer.station
            if isinstance(said, Station) and feet(said.distance) == at:
                return True
            return answer.length is not None and feet(answer.length) == at
        case _:
            return False
