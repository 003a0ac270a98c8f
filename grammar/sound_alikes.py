"""What else the sound of a sentence could have meant."""

from __future__ import annotations

from collections.abc import Sequence
from itertools import islice

from grammar.meanings import Meaning, Miss
from grammar.understand import Context, understand

SOUNDS_LIKE = {f"{stem}teen": f"{stem}ty" for stem in ("thir", "four", "fif", "six", "seven", "eigh", "nine")} | {
    "fourteen": "forty"
}
"""Teens and the tens that are heard for them. Source: patient-safety reports of fifteen heard as fifty."""

MOST_RIVALS = 4


def rivals(guesses: Sequence[str], context: Context) -> tuple[Meaning, ...]:
    """Other meanings of the same kind as the first guess: of the other guesses, and of teen/ty swaps in it."""
    first = understand(guesses[0], context)
    if isinstance(first, Miss):
        return ()
    found: list[Meaning] = []
    for text in (*guesses[1:], *swapped(guesses[0])):
        other = understand(text, context)
        if type(other) is type(first) and other != first and other not in found:
            found.append(other)
    return tuple(islice(found, MOST_RIVALS))


def swapped(text: str) -> list[str]:
    """The same words with a ten for a teen, or a teen for a ten, one at a time."""
    words = text.split()
    return [" ".join([*words[:at], TWIN[word], *words[at + 1 :]]) for at, word in enumerate(words) if word in TWIN]


TWIN = SOUNDS_LIKE | {ty: teen for teen, ty in SOUNDS_LIKE.items()}
