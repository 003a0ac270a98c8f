"""What a question asks: its proposals, told apart in words, and which of them an answer names."""

from __future__ import annotations

from dataclasses import fields, replace
from typing import Any

from assistant.job.records import Question, feet
from assistant.wording.phrase import digits, figures, listed, phrase
from assistant.wording.said import Said
from grammar.meanings import Answer, ChangePlace, ChangeReading, Correct, Meaning, Reading, Swap
from grammar.quantities import Length, Slope, Spot, Station

CORRECTING = Correct | Swap | ChangeReading | ChangePlace
"""Sentences that put right what was said before."""


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


def as_answer(said: CORRECTING) -> Answer | None:
    """A correction as an answer to an open question."""
    match said:
        case Correct():
            return said.bare or Answer(said.length, said.station, said.slope)
        case Swap() if len(said.pairs) == 1:
            return said.pairs[0][1]
        case _:
            return None


def differing(proposals: tuple[Meaning, ...]) -> list[str]:
    """The parts that several meanings do not have in common."""
    every = {field.name: None for proposal in proposals for field in fields(proposal)}
    return [
        name
        for name in every
        if any(getattr(proposal, name, None) != getattr(proposals[0], name, None) for proposal in proposals)
    ]


def names(answer: Answer, value: object) -> bool:
    """Whether an answer is just this value."""
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
        case Spot():
            return answer.station == value
        case Slope():
            return answer.slope == value
        case _:
            return False


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
