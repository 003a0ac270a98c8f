"""The head of a chain as a short code, to write on a stake, read over a telephone, or send home.

A code is the number of the last entry and 60 bits of its hash: `17 K4T9 WQ2M 7RXD`. Whoever has it can tell later
whether the book still begins with those 17 entries. To find another book with the same code takes 2^60 tries.
The letters are those of base 32 as Crockford wrote it down, which has no I, L, O and U; they are spoken by the
spelling words of the International Civil Aviation Organization (Annex 10, volume II).
"""

from __future__ import annotations

from collections.abc import Iterable

from assistant.book.entries import Row

_ALPHABET = "0123456789ABCDEFGHJKMNPQRSTVWXYZ"
_LOOKALIKE = str.maketrans("ILO", "110")
_CHARACTERS = 12
_WORDS = dict(
    zip(
        _ALPHABET,
        "zero one two three four five six seven eight nine alfa bravo charlie delta echo foxtrot golf hotel juliett "
        "kilo mike november papa quebec romeo sierra tango victor whiskey x-ray yankee zulu".split(),
        strict=True,
    )
)


def code(sequence: int, head: str) -> str:
    """The code of a chain that ends with entry `sequence`, whose hash in hex is `head`."""
    bits = int(head[:15], 16)
    letters = "".join(_ALPHABET[bits >> 5 * place & 31] for place in reversed(range(_CHARACTERS)))
    return " ".join((str(sequence), *(letters[at : at + 4] for at in range(0, _CHARACTERS, 4))))


def spoken(text: str) -> str:
    """A code as it is read out, character by character."""
    number, *groups = text.split()
    return ", ".join(" ".join(_WORDS[character] for character in group) for group in (number, *groups))


def normal(text: str) -> str:
    """A code as a person wrote it, made comparable. Raises `ValueError` for what is none."""
    number, *rest = text.upper().replace("-", " ").split() or [""]
    letters = "".join(rest).translate(_LOOKALIKE)
    if not number.isdecimal() or len(letters) != _CHARACTERS or not set(letters) <= set(_ALPHABET):
        raise ValueError(f"{text} is no code; it is a number and twelve letters and figures")
    return " ".join((str(int(number)), *(letters[at : at + 4] for at in range(0, _CHARACTERS, 4))))


def begins_so(rows: Iterable[Row], text: str) -> bool:
    """Whether a chain with the code `text` is the beginning of these rows. Raises `ValueError` for what is no code."""
    wanted = normal(text)
    return any(code(row.sequence, row.hash) == wanted for row in rows if row.sequence == int(wanted.split()[0]))
