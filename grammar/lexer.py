"""Typed or heard text as words. Typed shorthand is rewritten as the words that it stands for, exactly."""

from __future__ import annotations

import re
from fractions import Fraction

from grammar.spoken import say_decimal, say_number
from grammar.words import table


class UnknownSymbol(ValueError):
    """A sign that stands for no word. `str` of it is the sign."""


_FRACTION_SIGNS = {"½": " 1/2", "¼": " 1/4", "¾": " 3/4", "⅛": " 1/8", "⅜": " 3/8", "⅝": " 5/8", "⅞": " 7/8"}
_QUOTES = {"′": "'", "’": "'", "‘": "'", "″": '"', "”": '"', "“": '"', "''": '"'}
_TOKEN = re.compile(
    r"(?P<fraction>\d+/\d+)|(?P<decimal>\d*\.\d+)|(?P<whole>\d+)|(?P<word>[a-z]+)|(?P<sign>[^\s,.?!;])"
)
_PARTS = {2: ("half", "halves"), 4: ("quarter", "quarters"), 8: ("eighth", "eighths"), 16: ("sixteenth", "sixteenths")}
_MOST = 99_999
"""The largest whole number that has words here."""


def words_of(text: str) -> list[str]:
    """Split text into lower-case words. Raises `UnknownSymbol` for a sign without meaning."""
    tokens = _tokens(text)
    words: list[str] = []
    for at, (kind, token) in enumerate(tokens):
        before = tokens[at - 1][0] if at else ""
        after = tokens[at + 1] if at + 1 < len(tokens) else ("", "")
        if kind == "word":
            words += _word(token, before, after[0]).split()
        elif kind == "sign":
            words += _sign(token, before, after).split()
        elif kind == "fraction":
            words += _fraction(token, after_whole=before == "whole").split()
        elif kind == "decimal":
            words += say_decimal(token).split()
        else:
            words += _whole(token).split()
        if _closes_feet_and_inches(tokens, at):
            words.append("inches")
    return words


def _tokens(text: str) -> list[tuple[str, str]]:
    text = text.lower()
    for sign, plain in {**_FRACTION_SIGNS, **_QUOTES}.items():
        text = text.replace(sign, plain)
    text = re.sub(r"(?<=\d),(?=\d{3}\b)", "", text)
    text = re.sub(r"(?<=[a-z])-(?=[a-z])", " ", text)
    return [(str(match.lastgroup), match.group()) for match in _TOKEN.finditer(text)]


_NUMBERS = ("whole", "decimal", "fraction")


def _word(token: str, before: str, after: str) -> str:
    if token == "in" and (before in _NUMBERS) and after not in _NUMBERS:
        return "inches"
    return table().typed.get(token, token)


def _sign(sign: str, before: str, after: tuple[str, str]) -> str:
    number = before in _NUMBERS
    if sign == "'" and number:
        return "feet"
    if sign == '"' and number:
        return "inches"
    if sign == "%" and number:
        return "percent"
    if sign == "°" and number:
        return "degrees"
    if sign == "+" and before == "whole" and after[0] in _NUMBERS:
        return "plus"
    if sign == ":" and before == "whole" and after[0] == "whole":
        return "to"
    if sign == "/" and after[1] in ("ft", "foot"):
        return "per"
    if sign == "-" and before == "whole" and after[0] in ("whole", "fraction"):
        return "feet"
    if sign == "-" and before == "sign" and after[0] in ("whole", "fraction"):
        return ""
    raise UnknownSymbol(sign)


def _closes_feet_and_inches(tokens: list[tuple[str, str]], at: int) -> bool:
    """Whether a feet-inches pair with a dash, such as 3-9 1/2, ends here without an inch sign of its own."""
    if tokens[at][0] not in ("whole", "fraction"):
        return False
    dash = at - 1
    if tokens[at][0] == "fraction" and dash >= 1 and tokens[dash][0] == "whole":
        dash -= 1
    elif at + 1 < len(tokens) and tokens[at + 1][0] == "fraction":
        return False
    if dash < 1 or tokens[dash] != ("sign", "-") or tokens[dash - 1][0] != "whole":
        return False
    return at + 1 == len(tokens) or tokens[at + 1][1] not in ('"', "in", "inch", "inches")


def _whole(token: str) -> str:
    if len(token) > 1 and token[0] == "0":
        return " ".join(say_number(Fraction(digit)) for digit in token)
    if int(token) > _MOST:
        raise UnknownSymbol(token)
    return say_number(Fraction(token))


def _fraction(token: str, *, after_whole: bool) -> str:
    over, under = map(int, token.split("/"))
    if under not in _PARTS or not 0 < over < 20:
        raise UnknownSymbol(token)
    one, many = _PARTS[under]
    part = f"{say_number(Fraction(over))} {one if over == 1 or under == 2 else many}"
    return f"and {part}" if after_whole else part
