"""A language as the word graph of a Vosk model, so that nothing outside it can be heard.

Given a list of phrases the Vosk library learns which word may follow which, and then hears sentences that are in no
language of ours. A model folder with a word graph of its own (graph/Gr.fst) is searched exactly instead.
"""

from __future__ import annotations

import math
import shutil
import struct
from collections import Counter, defaultdict
from pathlib import Path

from grammar.automaton import Arc, Automaton
from grammar.unsaid import seldom_said

UNKNOWN = "[unk]"
"""The word that stands for any run of sounds."""

MAGIC = 2125659606
"""What begins a file of the OpenFst library; the layout after it was read from files that its programs wrote."""

ACCEPTOR, EXPANDED_MUTABLE = 0x10000, 0x3
"""Properties: both labels of an arc are the same; states are listed and may change."""

SELDOM = 2.5
"""The cost of a word that is seldom said after the one before: it is said a dozen times less. Our own choice."""

Arcs = list[tuple[int, float, int]]
"""Word number, cost and target of each arc of a state."""


def word_numbers(model: Path) -> dict[str, int]:
    """The numbers of a model's words."""
    lines = (model / "graph" / "words.txt").read_text("utf-8").splitlines()
    return {word: int(number) for word, number in (line.split() for line in lines if line.strip())}


def is_exact(model: Path) -> bool:
    """Whether a model folder has a word graph of its own, which can be changed."""
    return all((model / "graph" / name).exists() for name in ("HCLr.fst", "Gr.fst", "words.txt"))


def word_graph(language: Automaton, numbers: dict[str, int], strange: float) -> bytes:
    """The language, or nothing, or any run of sounds at a cost of `strange`, in OpenFst's binary form.

    Every way on from a state is as likely as any other, but for words that are seldom said after the one before.
    Words without a number are left out.
    """
    known = [arc for arc in language.arcs if arc.word in numbers]
    seldom = _seldom(known)
    ways = Counter(arc.source for arc in known) + Counter(language.finals)
    outside = 1 + max(max(arc.source, arc.target) for arc in language.arcs)
    states: list[Arcs] = [[] for _ in range(outside + 1)]
    for arc in known:
        cost = math.log(ways[arc.source]) + (SELDOM if arc.word in seldom.get(arc.source, ()) else 0.0)
        states[arc.source].append((numbers[arc.word], cost, arc.target))
    ends = {0: 0.0, **{state: math.log(ways[state]) for state in language.finals}}
    if UNKNOWN in numbers:
        for state in (0, outside):
            states[state].append((numbers[UNKNOWN], strange if state == 0 else 0.0, outside))
        ends[outside] = 0.0
    return _written(states, ends)


def _seldom(arcs: list[Arc]) -> dict[int, frozenset[str]]:
    """By state, the words that seldom follow the only word that leads there."""
    into: dict[int, set[str]] = defaultdict(set)
    for arc in arcs:
        into[arc.target].add(arc.word)
    return {
        state: after for state, (word, *others) in into.items() if not others and (after := seldom_said().get(word))
    }


NETWORK, WITNESS = "final.mdl", "witness.mdl"
"""The network of a model folder, and another one that hears the same words."""


def lay_out(model: Path, graph: bytes, folder: Path, network: str = NETWORK) -> None:
    """Make `folder` the same model with another word graph, and one of its networks; files are linked, or copied."""
    for path in sorted(p for p in model.rglob("*") if p.is_file()):
        copy = folder / path.relative_to(model)
        copy.parent.mkdir(parents=True, exist_ok=True)
        if copy.suffix == ".mdl":
            if copy.name != network:
                continue
            copy = copy.with_name(NETWORK)
        if copy.name == "Gr.fst":
            copy.write_bytes(graph)
            continue
        try:
            copy.symlink_to(path.resolve())
        except OSError:
            shutil.copyfile(path, copy)


def _written(states: list[Arcs], ends: dict[int, float]) -> bytes:
    out = bytearray(struct.pack("<i", MAGIC))
    for name in (b"vector", b"standard"):
        out += struct.pack("<i", len(name)) + name
    count = sum(len(arcs) for arcs in states)
    out += struct.pack("<iiQqqq", 2, 0, ACCEPTOR | EXPANDED_MUTABLE, 0, len(states), count)
    for state, arcs in enumerate(states):
        out += struct.pack("<fq", ends.get(state, math.inf), len(arcs))
        for word, cost, target in sorted(arcs):
            out += struct.pack("<iifi", word, word, cost, target)
    return bytes(out)
