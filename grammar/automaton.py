"""The sentences as a finite automaton over words, made from the parser's own rules."""

from __future__ import annotations

import random
from collections import defaultdict
from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from functools import cache, cached_property
from typing import NamedTuple

from lark.grammar import NonTerminal, Rule

from grammar import kept, numbers
from grammar.quantities import Marking
from grammar.understand import parser
from grammar.unsaid import Never, unsaid
from grammar.words import table


class Arc(NamedTuple):
    """One word leading from state `source` to state `target`."""

    source: int
    target: int
    word: str


@dataclass(frozen=True)
class Automaton:
    """A deterministic, minimal automaton. States are counted from 0, which is the start."""

    name: str
    finals: frozenset[int]
    arcs: tuple[Arc, ...]

    @property
    def words(self) -> frozenset[str]:
        """Every word of the language."""
        return frozenset(arc.word for arc in self.arcs)

    def after(self, words: Iterable[str]) -> dict[str, int]:
        """The words that can follow `words`, with the state each leads to; nothing where `words`
        leave the language.
        """
        steps = self._steps
        state = 0
        for word in words:
            if word not in steps[state]:
                return {}
            state = steps[state][word]
        return steps[state]

    def accepts(self, text: str) -> bool:
        """Whether `text`, words joined by spaces, is a sentence of the language."""
        steps = self._steps
        state = 0
        for word in text.split():
            if word not in steps[state]:
                return False
            state = steps[state][word]
        return state in self.finals

    def walks(self, count: int, seed: int) -> Iterator[str]:
        """Sentences by random walks, the same ones for the same seed; a walk mostly ends where it can."""
        dice = random.Random(seed)
        for _ in range(count):
            words: list[str] = []
            state = 0
            while not (state in self.finals and (not self._steps[state] or dice.random() < 0.6)):
                word, state = dice.choice(list(self._steps[state].items()))
                words.append(word)
            yield " ".join(words)

    @cached_property
    def _steps(self) -> dict[int, dict[str, int]]:
        steps: dict[int, dict[str, int]] = defaultdict(dict)
        for arc in self.arcs:
            steps[arc.source][arc.word] = arc.target
        return steps


METRES = {"metres_only", "metres_and", "metres_and_parts", "centimetres", "millimetres"}

FOREIGN = {
    Marking.INCHES: METRES | {"tenths_of_foot", "wide_pair"},
    Marking.TENTHS: METRES,
    Marking.METRIC: {
        "feet_inches",
        "feet_and_part",
        "part_of_foot",
        "half_foot",
        "a_foot",
        "tenths_of_foot",
        *numbers.PAIR,
    },
}
"""Rules that nobody speaks on a rod of each marking. They can still be typed."""

TYPED_ONLY = {
    *("_thousands", "_long_decimals", "bare_convert_slope", "bare_convert_length"),
    *("no_place", "one_inch", "one_part_inches"),
}
"""Rules that are typed only: heard, they would make other numbers doubtful."""


def spoken_rules(marking: Marking | None) -> list[Rule]:
    """The parser's rules, less those that are not spoken, and those that need what is left with no rule."""
    silent = TYPED_ONLY | (FOREIGN[marking] if marking else set())
    said = [rule for rule in parser().rules if (rule.alias or rule.origin.name) not in silent]
    while True:
        left = {rule.origin for rule in said}
        able = [r for r in said if all(part in left for part in r.expansion if isinstance(part, NonTerminal))]
        if len(able) == len(said):
            return said
        said = able


@cache
def compile_language(start: str, marking: Marking | None = None) -> Automaton:
    """The language of "sentence", or of "answer": sentences and bare numbers, as spoken on such a
    rod.
    """
    name = f"{start}-{marking.name.lower()}" if marking else start
    machine = _kept(name) or _made(name, start, marking)
    steps = enumerate(machine.steps)
    return Automaton(
        name, machine.finals, tuple(Arc(s, target, word) for s, step in steps for word, target in step.items())
    )


@dataclass(frozen=True)
class _Machine:
    """A deterministic automaton over terminals, or over words, in order. State 0 is the start; `steps` are by state."""

    steps: list[dict[str, int]]
    finals: frozenset[int]


def _kept(name: str) -> _Machine | None:
    """A machine that an earlier run made: making one takes seconds."""
    found = kept.read(f"{name}.words")
    return _Machine(found["steps"], frozenset(found["finals"])) if found else None


def _made(name: str, start: str, marking: Marking | None) -> _Machine:
    machine = _as_said(_Machines(spoken_rules(marking)).of(NonTerminal(start)), unsaid(marking))
    kept.write(f"{name}.words", {"steps": machine.steps, "finals": sorted(machine.finals)})
    return machine


def _as_said(machine: _Machine, never: Never) -> _Machine:
    """A machine over terminals as one over words, without words that are never said after the one before.

    A state is told apart by which of its words may not follow.
    """
    said = [
        {word: target for terminal, target in step.items() for word in table().said[terminal]} for step in machine.steps
    ]
    first = (0, frozenset[str]())
    known, queue = {first: 0}, [first]
    steps = []
    for state, barred in queue:
        step = {}
        for word in said[state].keys() - barred:
            target = said[state][word]
            beyond = target, never.get(word, frozenset()).intersection(said[target])
            if beyond not in known:
                known[beyond] = len(known)
                queue.append(beyond)
            step[word] = known[beyond]
        steps.append(dict(sorted(step.items())))
    finals = frozenset(number for (state, _), number in known.items() if state in machine.finals)
    return _minimal(_leading_on(_Machine(steps, finals)))


def _leading_on(machine: _Machine) -> _Machine:
    """The machine without states from which no sentence can be ended."""
    sources: dict[int, set[int]] = defaultdict(set)
    for state, step in enumerate(machine.steps):
        for target in step.values():
            sources[target].add(state)
    alive, queue = set(machine.finals), list(machine.finals)
    for state in queue:
        new = sources[state] - alive
        alive |= new
        queue += new
    number = {state: n for n, state in enumerate(sorted(alive))}
    steps = [
        {word: number[target] for word, target in machine.steps[state].items() if target in alive} for state in number
    ]
    return _Machine(steps, frozenset(number[state] for state in machine.finals))


class _Machines:
    """The minimal machine of each rule, made from those of the rules that it uses."""

    def __init__(self, rules: Iterable[Rule]) -> None:
        self._rules: dict[NonTerminal, list[Rule]] = defaultdict(list)
        for rule in rules:
            self._rules[rule.origin].append(rule)
        self._made: dict[NonTerminal, _Machine] = {}

    def of(self, symbol: NonTerminal) -> _Machine:
        """The machine of `symbol`. A rule that begins with itself is a loop at the end of the
        others.
        """
        if symbol not in self._made:
            net = _Net()
            begin, loop = net.state(), net.state()
            for rule in self._rules[symbol]:
                again = bool(rule.expansion) and rule.expansion[0] == symbol
                at = loop if again else begin
                for part in rule.expansion[1:] if again else rule.expansion:
                    beyond = net.state()
                    if isinstance(part, NonTerminal):
                        net.embed(self.of(part), at, beyond)
                    else:
                        net.arc(at, part.name, beyond)
                    at = beyond
                net.arc(at, None, loop)
            self._made[symbol] = _minimal(net.determinised(begin, loop))
        return self._made[symbol]


class _Net:
    """A network of states, with arcs that carry a terminal or nothing."""

    def __init__(self) -> None:
        self._arcs: list[list[tuple[str | None, int]]] = []

    def state(self) -> int:
        self._arcs.append([])
        return len(self._arcs) - 1

    def arc(self, source: int, terminal: str | None, target: int) -> None:
        self._arcs[source].append((terminal, target))

    def embed(self, machine: _Machine, begin: int, end: int) -> None:
        """Copy a machine in between two states."""
        states = [self.state() for _ in machine.steps]
        self.arc(begin, None, states[0])
        for state, step in zip(states, machine.steps, strict=True):
            for terminal, target in step.items():
                self.arc(state, terminal, states[target])
        for final in machine.finals:
            self.arc(states[final], None, end)

    def determinised(self, begin: int, end: int) -> _Machine:
        """The same language with one way to read each word: states are sets of states."""
        closures: dict[int, frozenset[int]] = {}

        def closure(state: int) -> frozenset[int]:
            if state not in closures:
                seen, todo = {state}, [state]
                while todo:
                    for terminal, target in self._arcs[todo.pop()]:
                        if terminal is None and target not in seen:
                            seen.add(target)
                            todo.append(target)
                closures[state] = frozenset(seen)
            return closures[state]

        first = closure(begin)
        numbers, queue = {first: 0}, [first]
        steps: list[dict[str, int]] = []
        for states in queue:
            targets: dict[str, set[int]] = defaultdict(set)
            for state in states:
                for terminal, target in self._arcs[state]:
                    if terminal is not None:
                        targets[terminal] |= closure(target)
            step = {}
            for terminal, reached in sorted(targets.items()):
                key = frozenset(reached)
                if key not in numbers:
                    numbers[key] = len(numbers)
                    queue.append(key)
                step[terminal] = numbers[key]
            steps.append(step)
        finals = frozenset(number for states, number in numbers.items() if end in states)
        return _Machine(steps, finals)


def _minimal(machine: _Machine) -> _Machine:
    """Merge states that no continuation tells apart: Moore's refinement."""
    group = [int(state in machine.finals) for state in range(len(machine.steps))]
    while True:
        signatures: dict[object, int] = {}
        refined = [
            signatures.setdefault(
                (group[state], tuple((word, group[target]) for word, target in step.items())),
                len(signatures),
            )
            for state, step in enumerate(machine.steps)
        ]
        if len(signatures) == len(set(group)):
            break
        group = refined
    steps: list[dict[str, int]] = [{} for _ in signatures]
    for state, step in enumerate(machine.steps):
        steps[refined[state]] = {word: refined[target] for word, target in step.items()}
    return _Machine(steps, frozenset(refined[state] for state in machine.finals))
