"""No sentence has two parses: the grammar is LALR(1) without a conflict, and such a grammar is never ambiguous."""

import io
import logging

import lark
import pytest

from grammar import understand
from grammar.phrases import sample
from grammar.quantities import Marking
from grammar.understand import Context


def conflicts(grammar: str, monkeypatch: pytest.MonkeyPatch) -> str:
    """What the parser generator says of conflicts that it settled by itself."""
    told = io.StringIO()
    monkeypatch.setattr(lark.logger, "handlers", [logging.StreamHandler(told)])
    monkeypatch.setattr(lark.logger, "level", logging.DEBUG)
    lark.Lark(grammar, parser="lalr", lexer=understand._Words, start=["sentence"], debug=True)
    return "".join(line for line in told.getvalue().splitlines() if "conflict" in line.lower())


def test_conflicts_are_told(monkeypatch: pytest.MonkeyPatch) -> None:
    assert conflicts("sentence: a+\na: A A? | A\n%declare A\n", monkeypatch)


def test_the_grammar_has_no_conflict(monkeypatch: pytest.MonkeyPatch) -> None:
    rules = understand.files("grammar").joinpath("sentences.lark").read_text("utf-8")
    words = " ".join(understand.table().said)
    assert conflicts(f"{rules}\n%declare {words}\n", monkeypatch) == ""


@pytest.mark.parametrize("marking", Marking)
def test_where_numbers_can_be_read_in_two_ways_it_is_asked(marking: Marking) -> None:
    """Of 2,000 sentences each has one meaning, or is a miss; several meanings are the miss that asks which."""
    for text in sample(2000, seed=21, marking=marking):
        got = understand.understand(text, Context(marking))
        if isinstance(got, understand.m.Miss):
            assert (got.reason == "which") == (len(got.choices) > 1)
