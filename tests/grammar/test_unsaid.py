"""What nobody says is not heard, but typed it is answered; what is said is heard."""

from __future__ import annotations

import pytest

from grammar.automaton import compile_language
from grammar.meanings import Miss
from grammar.phrases import sample
from grammar.quantities import Marking
from grammar.understand import Context, understand
from grammar.unsaid import is_said, unsaid

INCHES, TENTHS = Marking.INCHES, Marking.TENTHS

SAID = [
    (INCHES, "reading three foot seven eighths at station forty"),
    (INCHES, "reading two and a half inches at station forty"),
    (INCHES, "tolerance three eighths inches"),
    (INCHES, "tolerance an eighth inch"),
    (INCHES, "tolerance half an inch"),
    (INCHES, "tolerance one sixteenth inch"),
    (INCHES, "rod eleven nine"),
    (INCHES, "rod an inch"),
    (INCHES, "how much fall in thirty feet at point zero two foot per foot"),
    (INCHES, "what slope is six inches in half a foot"),
    (INCHES, "what slope is an inch in a quarter of a foot"),
    (INCHES, "reading three foot eleven at one fifty"),
    (INCHES, "reading six foot an eighth at station forty"),
    (INCHES, "reading six foot eight inches at station forty"),
    (TENTHS, "reading four foot twenty five at station one fifty"),
    (TENTHS, "reading four point two oh at station zero plus oh five"),
]

NOT_SAID = [
    (INCHES, "reading three foot nine eighths at station forty", "fraction"),
    (INCHES, "reading three foot at station fifteen five", "not a number"),
    (INCHES, "reading three foot at station twenty one five", "not a number"),
    (INCHES, "reading three foot fifteen", "inches"),
    (INCHES, "reading three twenty five", "inches"),
    (INCHES, "tolerance an quarter inch", None),
    (INCHES, "tolerance a eighth inch", None),
    (INCHES, "tolerance eighth inches", None),
    (INCHES, "tolerance one eighths inch", None),
    (INCHES, "rod in inch", None),
    (INCHES, "how much fall in thirty feet at one eight feet per foot", None),
    (INCHES, "what slope is six inches in sixteenth a foot", None),
    (INCHES, "what is the diagonal of forty feet by sixteenth inch", None),
    (TENTHS, "reading four point three three at station point zero", None),
    (INCHES, "what slope is six inches in half a feet", None),
    (INCHES, "reading six foot eighth inches at station forty", None),
    (INCHES, "how much fall in thirty feet at one foot eight per foot", None),
    (TENTHS, "what slope is four tenths in sixteenth inch", None),
    (TENTHS, "reading four point two five at station zero plus zero oh", None),
    (TENTHS, "reading four point two five at station zero plus oh zero", None),
]


@pytest.mark.parametrize(("rod", "text"), SAID)
def test_what_is_said_is_heard(rod: Marking, text: str) -> None:
    assert compile_language("sentence", rod).accepts(text)


@pytest.mark.parametrize(("rod", "text", "reason"), NOT_SAID)
def test_what_nobody_says_is_typed_only(rod: Marking, text: str, reason: str | None) -> None:
    assert not compile_language("sentence", rod).accepts(text)
    meaning = understand(text, Context(rod))
    assert (meaning.reason if isinstance(meaning, Miss) else None) == reason


@pytest.mark.parametrize("marking", [None, *Marking])
def test_no_sentence_is_drawn_that_nobody_says(marking: Marking | None) -> None:
    never = unsaid(marking)
    assert all(is_said(text.split(), never) for text in sample(2000, 4, "sentence", marking))
    assert not is_said("reading nine eighths".split(), never)
