"""What can be said, told in a breath."""

from __future__ import annotations

from assistant.wording.phrase import listed, phrase, reply
from assistant.wording.said import Reply, Said
from grammar.phrases import examples, topics

MOST_EXAMPLES = 3
"""A spoken list longer than this is not remembered. Our own choice."""


def helped(topic: str | None) -> Reply:
    """Tell the groups of sentences, or the first few of one group."""
    if topic is None:
        named = listed([_plain(name) for name in topics()])
        return reply(phrase("help", example=_plain(examples("readings")[0]), topics=named))
    few = [_plain(sentence) for sentence in examples(topic)[:MOST_EXAMPLES]]
    return reply(phrase("help about", examples=listed(few)))


def _plain(text: str) -> Said:
    return Said(text, text)
