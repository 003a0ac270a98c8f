"""Amounts and reply texts, in figures and in words at once."""

from __future__ import annotations

import re
import tomllib
from collections.abc import Iterable
from fractions import Fraction
from functools import cache
from importlib.resources import files

from assistant.grade import levels, units
from assistant.job.state import Job
from assistant.wording.said import Reply, Said
from grammar import spoken
from grammar.quantities import Length, Marking, Paces, Place, SideSlope, Slope


@cache
def texts() -> dict[str, str]:
    """Every reply text by its name, from `replies.toml`."""
    data = files("assistant.wording").joinpath("replies.toml").read_text("utf-8")
    return {name: text for section in tomllib.loads(data).values() for name, text in section.items()}


def phrase(name: str, **values: Said | str | int) -> Said:
    """Fill the reply text `name`. Raises `KeyError` for an unknown text or a missing value."""
    text = texts()[name]
    shown = {k: v.shown if isinstance(v, Said) else v for k, v in values.items()}
    said = {k: v.spoken if isinstance(v, Said) else v for k, v in values.items()}
    return Said(text.format(**shown), text.format(**said))


def reply(*parts: Said, asks: bool = False) -> Reply:
    """Join sentences into one reply, each starting with a capital."""
    shown = " ".join(_sentence(part.shown) for part in parts)
    said = " ".join(_sentence(part.spoken) for part in parts)
    return Reply(shown, said, asks)


def joined(answer: Reply, remark: Said) -> Reply:
    """A reply, and a remark after it."""
    after = reply(remark)
    return Reply(f"{answer.shown} {after.shown}".strip(), f"{answer.spoken} {after.spoken}".strip(), answer.asks)


def listed(items: Iterable[Said], last: str = "or") -> Said:
    """Join alternatives: "a, b, or c"."""
    every = list(items)

    def join(texts: list[str]) -> str:
        return texts[0] if len(texts) == 1 else f"{', '.join(texts[:-1])}, {last} {texts[-1]}"

    return Said(join([s.shown for s in every]), join([s.spoken for s in every]))


def _sentence(text: str) -> str:
    return re.sub(r"(^|[.?!] )([a-z])", lambda match: match[1] + match[2].upper(), text)


def length(value: Length) -> Said:
    """A length as it was said."""
    return Said(spoken.show_length(value), spoken.say_length(value))


def computed(job: Job, amount_ft: Fraction, marking: Marking | None = None) -> Length:
    """A computed amount of feet as the job shows lengths."""
    marking = marking or job.marking or Marking.TENTHS
    amount = amount_ft * units.FOOT_IN_METRES if marking is Marking.METRIC else amount_ft
    return Length(amount, marking, spoken.SHOWN_STEP[marking])


def station(value: Place) -> Said:
    """A place."""
    return Said(spoken.show_place(value), spoken.say_place(value))


def slope(value: Slope) -> Said:
    """A slope as it was said."""
    return Said(spoken.show_slope(value), spoken.say_slope(value))


def paces(value: Paces) -> Said:
    """A count of steps."""
    return Said(f"{value.count} paces", f"{spoken.say_number(value.count)} paces")


def plain(value: Length | Place | Slope) -> Said:
    """A length, a place or a slope, as each is said."""
    match value:
        case Length():
            return length(value)
        case Slope():
            return slope(value)
        case _:
            return station(value)


def digits(value: Length | Place | Slope) -> Said:
    """A number digit by digit, for a choice between two that sound alike."""
    return Said(plain(value).shown, spoken.say_digits(value))


def figures(value: Length) -> Said | None:
    """Feet or metres digit by digit, said without their unit; nothing where they are not said in decimals."""
    said = spoken.say_figures(value)
    return None if said is None else Said(length(value).shown, said)


def grade(job: Job, result: levels.Grade, below: Length | None) -> Said:
    """ "cut nine and five eighths inches", "fill …" or "on grade"; what is dug below grade says so."""
    on_grade = result.kind == "on grade"
    amount = phrase("on grade") if on_grade else phrase(result.kind, amount=length(computed(job, result.amount)))
    if below is None or below.amount == 0:
        return amount
    depth = phrase("below grade", below=length(below))
    return phrase("at depth", depth=depth) if on_grade else phrase("to depth", grade=amount, depth=depth)


def decimal(amount: Fraction, step: Fraction | None = None) -> Said:
    """A plain number; with a step it is rounded to that, and keeps its zeros."""
    if step is None:
        return Said(spoken.show_number(amount), spoken.say_number(amount))
    figures = spoken.show_number(spoken.half_up(amount, step), step)
    return Said(figures, spoken.say_decimal(figures))


def bank(value: SideSlope) -> Said:
    """A bank: "two to one"."""
    return Said(f"{decimal(value.across).shown} to 1", f"{decimal(value.across).spoken} to one")
