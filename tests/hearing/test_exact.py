"""A model searched under an exact language hears sentences of it, or nothing."""

import struct
from pathlib import Path

import numpy as np
import pytest
from fixtures import recordings

from assistant.hearing.ears import open_ear
from assistant.hearing.endpoint import utterances
from assistant.hearing.exact import NETWORK, SELDOM, UNKNOWN, WITNESS, is_exact, lay_out, word_graph, word_numbers
from assistant.hearing.sources import blocks
from grammar.automaton import Arc, Automaton, compile_language
from grammar.quantities import Marking

MODEL = Path("assistant/hearing/model")

STATIONS = Automaton("stations", frozenset({2}), (Arc(0, 1, "station"), Arc(1, 2, "forty"), Arc(1, 2, "sixty")))


def parsed(graph: bytes) -> tuple[list[list[tuple[int, float, int]]], list[float]]:
    """Arcs and end costs of each state of a written graph."""
    at = 4
    for _ in range(2):
        at += 4 + struct.unpack_from("<i", graph, at)[0]
    _, _, _, start, states, count = struct.unpack_from("<iiQqqq", graph, at)
    assert start == 0
    at += struct.calcsize("<iiQqqq")
    arcs: list[list[tuple[int, float, int]]] = []
    ends = []
    for _ in range(states):
        end, here = struct.unpack_from("<fq", graph, at)
        at += 12
        rows = [struct.unpack_from("<iifi", graph, at + 16 * k) for k in range(here)]
        at += 16 * here
        assert all(into == out for into, out, _, _ in rows)
        assert [row[0] for row in rows] == sorted(row[0] for row in rows)
        arcs.append([(word, cost, target) for word, _, cost, target in rows])
        ends.append(end)
    assert at == len(graph)
    assert sum(map(len, arcs)) == count
    return arcs, ends


def test_the_graph_is_the_language_or_nothing_or_any_run_of_sounds() -> None:
    arcs, ends = parsed(word_graph(STATIONS, {"station": 4, "forty": 9, "sixty": 2, UNKNOWN: 7}, 1.5))
    assert arcs[0] == [(4, pytest.approx(0.0), 1), (7, pytest.approx(1.5), 3)]
    assert [word for word, _, _ in arcs[1]] == [2, 9]
    assert sum(np.exp(-cost) for _, cost, _ in arcs[1]) == pytest.approx(1.0)
    assert arcs[3] == [(7, 0.0, 3)]
    assert [np.isfinite(end) for end in ends] == [True, False, True, True]


def test_words_that_the_model_lacks_are_left_out() -> None:
    arcs, _ = parsed(word_graph(STATIONS, {"station": 4, "forty": 9}, 0.0))
    assert [word for word, _, _ in arcs[1]] == [9]


def test_decimals_are_heard_figure_by_figure_rather_than_as_one_number() -> None:
    language = Automaton(
        "decimals",
        frozenset({2, 3}),
        (
            Arc(0, 1, "point"),
            Arc(1, 2, "forty"),
            Arc(1, 3, "four"),
            Arc(3, 2, "two"),
            Arc(0, 4, "at"),
            Arc(4, 2, "forty"),
        ),
    )
    arcs, _ = parsed(
        word_graph(language, {word: n for n, word in enumerate("at forty four point two".split(), 1)}, 0.0)
    )
    costs = {word: cost for word, cost, _ in arcs[1]}
    assert costs[2] == pytest.approx(costs[3] + SELDOM)
    assert arcs[4] == [(2, pytest.approx(0.0), 2)]


@pytest.mark.parametrize("network", [NETWORK, WITNESS])
def test_only_the_word_graph_of_a_model_differs(tmp_path: Path, network: str) -> None:
    """And of its networks the one that is wanted stands where the decoder looks."""
    assert is_exact(MODEL)
    lay_out(MODEL, b"graph", tmp_path, network)
    for path in (p for p in MODEL.rglob("*") if p.is_file() and p.suffix != ".mdl"):
        copy = (tmp_path / path.relative_to(MODEL)).read_bytes()
        assert copy == (b"graph" if path.name == "Gr.fst" else path.read_bytes())
    (laid,) = tmp_path.rglob("*.mdl")
    assert laid.relative_to(tmp_path) == Path("am") / NETWORK
    assert laid.read_bytes() == (MODEL / "am" / network).read_bytes()
    assert word_numbers(tmp_path) == word_numbers(MODEL)


def test_nothing_outside_the_language_is_heard() -> None:
    """Whole sentences of the job, under a language of two sentences."""
    ear = open_ear()
    for recording in recordings("clean")[:12]:
        for samples in utterances(blocks(recording.path)):
            assert all(STATIONS.accepts(guess.text) for guess in ear.hear(samples, STATIONS))


def test_the_witness_is_another_network_under_the_same_language() -> None:
    ear = open_ear()
    recording = next(r for r in recordings("clean") if r.words == "reading three foot nine at station forty")
    samples = np.concatenate(list(blocks(recording.path)))
    sentence = compile_language("sentence", Marking.INCHES)
    heard, seconded = ear.hear(samples, sentence), ear.witness(samples, sentence)
    assert seconded is not None and heard[0].text == seconded[0].text == recording.words
    assert heard[0].score != seconded[0].score
    assert open_ear("sphinx").witness(samples, sentence) is None
