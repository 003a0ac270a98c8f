"""Numbers as they are said, shown and understood, and what a talk answers."""

from __future__ import annotations

from collections.abc import Callable
from fractions import Fraction
from typing import Any

from grammar import spoken
from grammar.meanings import Reading
from grammar.quantities import Length, Marking, Station
from grammar.understand import Context, understand


def _tenths(amount: Fraction, step: Fraction) -> Length:
    return Length(amount, Marking.TENTHS, step)


def _reading(words: str, at: str = "station zero", rod: Marking | None = None) -> Reading:
    found = understand(f"reading {words} at {at}", Context(rod))
    if not isinstance(found, Reading):
        raise ValueError(f"{words} at {at}: {found}")
    return found


def _station(text: str) -> Fraction:
    place = _reading("3.90", text, Marking.TENTHS).station
    assert isinstance(place, Station)
    return place.distance.amount


def _says(fragment: str, *utterances: str) -> str:
    """Whether the last answer of a talk has these words."""
    from assistant.book.store import Book
    from assistant.talk.session import Session

    with Book.scratch() as book:
        session = Session(book)
        session.begin()
        answers = [session.utterance([text]).reply.shown for text in utterances]
    return "yes" if fragment.lower() in answers[-1].lower() else answers[-1]


CHECKS: dict[str, Callable[..., Any]] = {
    "digits said": lambda *pairs: [spoken.say_digits(_tenths(*pair)).removesuffix(" feet") for pair in pairs],
    "numbers said": lambda *numbers: [spoken.say_number(number) for number in numbers],
    "feet shown": lambda *pairs: [spoken.show_length(_tenths(*pair)) for pair in pairs],
    "stations shown": lambda *feet: [spoken.show_place(Station(_tenths(each, Fraction(1)))) for each in feet],
    "station in metres shown": lambda metres: spoken.show_place(Station(Length(metres, Marking.METRIC, Fraction(1)))),
    "stations understood": lambda *texts: [_station(text) for text in texts],
    "between stations": lambda one, other: abs(_station(one) - _station(other)),
    "lengths understood": lambda *texts: [_reading(text).length.amount for text in texts],
    "says": _says,
}
