"""From words to a meaning, or to a miss that says what was wrong and what could have come next."""

from __future__ import annotations

import gc
from collections.abc import Iterator
from contextlib import contextmanager
from functools import cache
from importlib.resources import files
from itertools import chain, islice, product
from math import inf
from typing import Any

import lark
from lark import Lark, Token, Tree
from lark.exceptions import UnexpectedToken
from lark.grammar import Rule
from lark.lexer import Lexer, TerminalDef

from grammar import kept
from grammar import meanings as m
from grammar.interpret import meanings_of
from grammar.lexer import NoWords, words_of
from grammar.numbers import Node, Unusable
from grammar.parts import Context
from grammar.words import table

__all__ = ["Context", "parser", "understand"]

MOST_HINTS = 3


def understand(text: str, context: Context) -> m.Meaning | m.Miss:
    """Return what `text`, typed or heard, means in `context`. Never raises for any text."""
    try:
        words = words_of(text)
    except NoWords as unusable:
        return m.Miss(unusable.reason, unusable.about)
    if not words:
        return m.Miss("nothing", "")
    nodes, stops = [], []
    for tokens in _spellings(words, with_figures=any(sign in FIGURES for sign in text)):
        try:
            nodes.append(_parsed(tokens, context))
        except UnexpectedToken as stopped:
            stops.append((_reach(stopped), stopped, tokens))
    if not nodes:
        _, stop, tokens = max(stops, key=lambda each: each[0])
        return _not_followed(stop, [str(token) for token in tokens], context)
    try:
        read = chain.from_iterable(meanings_of(node, context, understand) for node in nodes)
        found = tuple(dict.fromkeys(read))
    except Unusable as unusable:
        return m.Miss(unusable.reason, unusable.about)
    return m.Miss("which", " ".join(words), choices=found) if len(found) > 1 else found[0]


FIGURES = "0123456789"
UNKNOWN = "UNKNOWN"
MOST_DOUBTS = 4


def _spellings(words: list[str], *, with_figures: bool) -> Iterator[list[Token]]:
    """The words as tokens, every way: among figures, "in" is also written for inches."""
    doubts = [at for at, word in enumerate(words) if word == "in"] if with_figures else []
    if len(doubts) > MOST_DOUBTS:
        doubts = []
    for chosen in product(("in", "inches"), repeat=len(doubts)):
        spelled = [*words]
        for at, word in zip(doubts, chosen, strict=True):
            spelled[at] = word
        yield [Token(table().terminals.get(word, UNKNOWN), word, start_pos=at) for at, word in enumerate(spelled)]


def _parsed(tokens: list[Token], context: Context) -> Node:
    """The node of the sentence. Raises `UnexpectedToken`."""
    tree = parser().parse(tokens, start=_start(context))
    node = tree.children[0]
    assert isinstance(node, Tree)
    return node.children[0] if node.data == "sentence" else node  # type: ignore[return-value]


def _start(context: Context) -> str:
    return "answer" if context.asking else "sentence"


def _reach(stop: UnexpectedToken) -> float:
    """The place of the word at which a sentence could be followed no more."""
    return inf if stop.token.type == "$END" else stop.token.start_pos or 0


class _Words(Lexer):
    """The words are tokens already."""

    def __init__(self, _: object) -> None: ...

    def lex(self, state: Any, parser_state: Any = None) -> Iterator[Token]:
        """Hand the tokens on."""
        return iter(state if isinstance(state, list) else state.text)


@cache
def parser() -> Lark:
    """The parser of `sentences.lark`, made once; its tables, which take half a second, are kept."""
    with _no_collecting():
        found = _parser_of(kept.read(TABLES))
    if found is not None:
        return found
    rules = files("grammar").joinpath("sentences.lark").read_text("utf-8")
    declared = f"\n%declare {' '.join(table().said)}\n"
    made = Lark(rules + declared, parser="lalr", lexer=_Words, start=["sentence", "answer"])
    kept.write(TABLES, _tables_of(made))
    return made


TABLES = "sentences.tables"


@contextmanager
def _no_collecting() -> Iterator[None]:
    """Without looking for garbage, which takes half of the time of making many small things that stay."""
    was = gc.isenabled()
    gc.disable()
    try:
        yield
    finally:
        if was:
            gc.enable()


def _tables_of(made: Lark) -> dict[str, Any]:
    """A parser as JSON, and not as lark's own cache: that is a pickle, which can run what somebody put into it."""
    data, memo = made.memo_serialize([TerminalDef, Rule])
    data["options"]["lexer"] = data["parser"]["lexer_conf"]["lexer_type"] = None
    return {"lark": lark.__version__, "data": data, "memo": memo}


def _parser_of(found: Any) -> Lark | None:
    """The parser of kept tables; none where they are not of this lark, or are spoiled."""
    try:
        if found["lark"] != lark.__version__:
            return None
        data = found["data"]
        data["options"]["lexer"] = data["parser"]["lexer_conf"]["lexer_type"] = _Words
        tables = data["parser"]["parser"]
        tables["tokens"] = _by_number(tables["tokens"])
        tables["states"] = {int(state): _by_number(actions) for state, actions in tables["states"].items()}
        return Lark._load_from_dict(data, _by_number(found["memo"]))  # type: ignore[no-untyped-call,no-any-return]
    except (LookupError, TypeError, ValueError, AttributeError, AssertionError):
        return None


def _by_number(items: dict[str, Any]) -> dict[int, Any]:
    """A table whose keys are numbers again, which JSON has made text of."""
    return {int(name): item for name, item in items.items()}


def _not_followed(stop: UnexpectedToken, words: list[str], context: Context) -> m.Miss:
    """What was wrong with `words`, spelled as they were when `stop` came."""
    if words[0] in table().values:
        return m.Miss("no lead word", " ".join(words))
    ended = stop.token.type == "$END"
    if ended and len(words) == 1 and words[0] in table().reserved:
        return m.Miss("unfinished", "", table().reserved[words[0]])
    could = _could_follow(words if ended else words[: stop.token.start_pos], context)
    if ended:
        return m.Miss("unfinished", "", could)
    word = str(stop.token)
    if stop.token.type == UNKNOWN:
        return m.Miss("unknown word", word, table().reserved.get(word, could))
    return m.Miss("not a sentence", word, could)


def _could_follow(words: list[str], context: Context) -> tuple[str, ...]:
    """Examples of what can come after `words`; none at the start, where anything can."""
    if not words:
        return ()
    walk = parser().parse_interactive([], start=_start(context))
    for word in words:
        walk.feed_token(Token(table().terminals[word], word))
    accepted = walk.accepts()  # type: ignore[no-untyped-call]
    if words[-1] in table().values and accepted & table().hints.keys() != {"DIGIT"}:
        accepted.discard("DIGIT")  # a number that goes on is the last thing to wait for
    hints = (hint for terminal, hint in table().hints.items() if terminal in accepted)
    return tuple(islice(hints, MOST_HINTS))
