"""Whole talks, typed, with every reply and every entry exact."""

from collections.abc import Iterator
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

import pytest
import yaml

from assistant.book.store import Book
from assistant.talk.session import Session

HERE = Path(__file__).parent


def dialogues() -> Iterator[Any]:
    for path in sorted(HERE.glob("*.yaml")):
        for talk in yaml.safe_load(path.read_text("utf-8")):
            yield pytest.param(talk, id=f"{path.stem}: {talk['name']}")


@pytest.mark.parametrize("talk", list(dialogues()))
def test_talk(talk: dict[str, Any]) -> None:
    with Book.scratch(lambda: datetime(2026, 5, 4, 7, 30, tzinfo=UTC)) as book:
        session = Session(book)
        session.begin()
        for said in talk.get("before", []):
            session.utterance([said])
        for step in talk["steps"]:
            outcome = session.utterance([step["say"]])
            got = {"say": step["say"], "reply": outcome.reply.shown}
            if "spoken" in step:
                got["spoken"] = outcome.reply.spoken
            if "writes" in step:
                got["writes"] = [row.kind for row in outcome.rows]
            if "asks" in step:
                got["asks"] = outcome.reply.asks
            if "understood" in step:
                got["understood"] = outcome.understood
            assert got == step
