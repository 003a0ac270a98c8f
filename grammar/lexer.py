"""Typed or heard text as words. Typed shorthand is rewritten as the words that it stands for,
exactly.
"""

from __future__ import annotations

import re
from dataclasses import dataclass
from fractions import Fraction

from grammar.spoken import say_decimal, say_number
from grammar.words import table


class NoWords(ValueError):
    """Text that stands for no words. `reason` and `about` are those of a `Miss`."""

    def __init__(self, reason: str, about: str) -> None:
        super().__init__(f"{reason}: {about}")
        self.reason, self.about = reason, about


@dataclass(frozen=True)
class Piece:
    """A word, a figure or a sign, and whether it stands close to the one before."""

    kind: str
    text: str
    close: bool


NOTHING = Piece("", "", False)
_NUMBERS = ("whole", "decimal", "fraction")

_SIGNS = {
    "½": " 1/2",
    "¼": " 1/4",
    "¾": " 3/4",
    "⅛": " 1/8",
    "⅜": " 3/8",
    "⅝": " 5/8",
    "⅞": " 7/8",
    "′": "'",
    "’": "'",
    "‘": "'",
    "″": '"',
    "”": '"',
    "“": '"',
    "''": '"',
    "–": "-",
}
# Between figures a point or a comma would be part of a number; elsewhere it ends a clause.
# Each run is taken whole ("++"), so that a text is read in one pass, whatever it holds.
_PIECE = re.compile(
    r"(?P<space>\s+|[?!;]|[,.]{2,}+(?![0-9]))"
    r"|(?P<fraction>[0-9]++/[0-9]++(?![.,/]*[0-9]))"
    r"|(?P<whole>[0-9]++(?![.,]*[0-9]))"
    r"|(?P<decimal>[0-9]*+\.[0-9]++(?![.,]*[0-9]))"
    r"|(?P<figures>[0-9.,]*[0-9])"
    r"|(?P<word>[a-z]+)"
    r"|(?P<stop>(?<![0-9])[,.]|[,.](?!\s*[0-9]))"
    r"|(?P<sign>.)"
)
_BETWEEN = ("space", "stop")
_PARTS = {
    2: ("half", "halves"),
    4: ("quarter", "quarters"),
    8: ("eighth", "eighths"),
    16: ("sixteenth", "sixteenths"),
}
_MOST = 99_999
"""The largest whole number that has words here."""

LONGEST = 1000
"""Characters of the longest line that is read: several times the longest sentence there is. Our own choice."""


def words_of(text: str) -> list[str]:
    """Split text into lower-case words.

    Raises `NoWords` for a sign without meaning, for a number without words and for a line over `LONGEST`.
    A typed "in" is left as it is: whether it stands for inches is for the sentence to tell.
    """
    if len(text) > LONGEST:
        raise NoWords("too long", "")
    pieces = _pieces(text)
    words: list[str] = []
    for at, piece in enumerate(pieces):
        before = pieces[at - 1] if at else NOTHING
        after = pieces[at + 1] if at + 1 < len(pieces) else NOTHING
        words += _WORDS[piece.kind](piece, before, after).split()
        if _closes_feet_and_inches(pieces, at):
            words.append("inches")
    return words


def _pieces(text: str) -> list[Piece]:
    text = text.lower()
    for sign, plain in _SIGNS.items():
        text = text.replace(sign, plain)
    text = re.sub(r"(?<=[a-z])-(?=[a-z])", " ", text)
    pieces: list[Piece] = []
    close = False
    for match in _PIECE.finditer(text):
        kind = str(match.lastgroup)
        if kind not in _BETWEEN:
            pieces.append(Piece(kind, match.group(), close))
        close = kind not in _BETWEEN
    return pieces


def _word(piece: Piece, before: Piece, after: Piece) -> str:
    return table().typed.get(piece.text, piece.text)


_AFTER_A_NUMBER = {"'": "feet", '"': "inches", "%": "percent", "°": "degrees"}


def _sign(piece: Piece, before: Piece, after: Piece) -> str:
    sign = piece.text
    if sign in _AFTER_A_NUMBER and before.kind in _NUMBERS:
        return _AFTER_A_NUMBER[sign]
    if sign == "+" and before.kind == "whole" and after.kind in _NUMBERS:
        return "plus"
    if sign == ":" and before.kind == "whole" and after.kind == "whole":
        return "to"
    if sign == "/" and after.text in ("ft", "foot"):
        return "per"
    if sign == "-" and before.text == "'" and after.kind in ("whole", "fraction"):
        return ""
    if sign == "-" and before.kind == "whole" and piece.close and after.close:
        if after.kind == "whole":
            return "feet"
        if after.kind == "fraction":  # 5-3/8 is five and three eighths
            return "and"
    raise NoWords("unknown word", sign)


def _closes_feet_and_inches(pieces: list[Piece], at: int) -> bool:
    """Whether a feet-inches pair with a dash, such as 3-9 1/2, ends here without an inch sign of
    its own.
    """
    if pieces[at].kind not in ("whole", "fraction"):
        return False
    after = pieces[at + 1] if at + 1 < len(pieces) else NOTHING
    if after.text in ('"', "in", "inch", "inches") or _inches_go_on(pieces, at):
        return False
    first = at - 1 if pieces[at].kind == "whole" else _before_part(pieces, at) - 1
    return first >= 1 and pieces[first].text == "-" and pieces[first - 1].kind == "whole"


def _inches_go_on(pieces: list[Piece], at: int) -> bool:
    rest = [piece for piece in pieces[at + 1 : at + 3] if piece.text != "-"]
    return bool(rest) and pieces[at].kind == "whole" and rest[0].kind == "fraction"


def _before_part(pieces: list[Piece], at: int) -> int:
    """The piece before a fraction, over a dash: the whole of 9 1/2 and of 9-1/2."""
    return at - 2 if at and pieces[at - 1].text == "-" else at - 1


def _whole(piece: Piece, before: Piece, after: Piece) -> str:
    return _say_whole(piece.text)


def _say_whole(figures: str) -> str:
    if len(figures) > 1 and figures[0] == "0":
        return " ".join(say_number(Fraction(figure)) for figure in figures)
    if len(figures) > len(str(_MOST)):
        raise NoWords("not a number", figures)
    return say_number(Fraction(figures))


def _decimal(piece: Piece, before: Piece, after: Piece) -> str:
    whole, _, places = piece.text.partition(".")
    return f"{_say_whole(whole) if whole else ''} {say_decimal(f'.{places}')}"


def _fraction(piece: Piece, before: Piece, after: Piece) -> str:
    over, under = (int(figures) if len(figures) < 4 else 0 for figures in piece.text.split("/"))
    if under not in _PARTS or not 0 < over < 20:
        raise NoWords("fraction", piece.text)
    one, many = _PARTS[under]
    part = f"{say_number(Fraction(over))} {one if over == 1 or under == 2 else many}"
    return f"and {part}" if before.kind == "whole" else part


def _figures(piece: Piece, before: Piece, after: Piece) -> str:
    raise NoWords("not a number", piece.text)


_WORDS = {
    "word": _word,
    "sign": _sign,
    "whole": _whole,
    "decimal": _decimal,
    "fraction": _fraction,
    "figures": _figures,
}
