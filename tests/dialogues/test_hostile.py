"""Hostile talks, with every reply, every entry and the whole book exact: see `hostile/talks.py`."""

from __future__ import annotations

import sys
from pathlib import Path
from typing import Any

import pytest

sys.path.insert(0, str(Path(__file__).parent / "hostile"))

from talks import opened, scratch_book, standing, taken, talks

TALKS = [pytest.param(talk, id=f"{file}: {talk['name']}") for file, talk in talks()]


@pytest.mark.parametrize("talk", TALKS)
def test_talk(talk: dict[str, Any]) -> None:
    with scratch_book() as book:
        session = opened(talk, book)
        for step in talk["steps"]:
            outcome = taken(session, step)
            written = [row.kind for row in outcome.rows]
            assert (outcome.reply.shown, written) == (step["reply"], step["writes"]), step
            assert outcome.reply.asks == step.get("asks", False), step
        assert standing(book) == talk["book"]


def test_there_are_two_hundred() -> None:
    assert len(TALKS) >= 200
