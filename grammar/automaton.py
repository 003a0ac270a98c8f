"""The sentences of the grammar as a finite automaton over words."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True)
class Arc:
    """One word leading from state `source` to state `target`."""

    source: int
    target: int
    word: str


@dataclass(frozen=True)
class Automaton:
    """A deterministic, minimal automaton. States are 0..n-1, the start is 0.

    `phrases` are whole sentences of the same language, drawn so that together they hold every word and every usual
    order of words: the form in which some recognisers want a language.
    """

    name: str
    finals: frozenset[int]
    arcs: tuple[Arc, ...]
    phrases: tuple[str, ...]

    @property
    def words(self) -> frozenset[str]:
        """Every word of the language."""
        return frozenset(arc.word for arc in self.arcs)

    def accepts(self, text: str) -> bool:
        """Whether `text`, words joined by spaces, is a sentence of the language."""
        steps = {(arc.source, arc.word): arc.target for arc in self.arcs}
        state: int | None = 0
        for word in text.split():
            state = steps.get((state, word)) if state is not None else None
        return state in self.finals
