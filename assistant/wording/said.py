"""A text in figures and in words, and a whole answer of such texts."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True)
class Said:
    """The same thing in figures and in words."""

    shown: str
    spoken: str


@dataclass(frozen=True)
class Reply:
    """An answer as shown and as spoken. `asks` tells that an answer is awaited."""

    shown: str
    spoken: str
    asks: bool = False
