"""The automaton, the sampler and the parser are one language; and no text whatever raises."""

from __future__ import annotations

import random
import re
from collections import defaultdict, deque
from functools import cache

import pytest
from cases import REASONS, cases
from hypothesis import given
from hypothesis import strategies as st

from grammar.automaton import Automaton, compile_language
from grammar.meanings import Miss
from grammar.phrases import examples, sample, topics
from grammar.quantities import Marking
from grammar.understand import Context, understand
from grammar.words import table

STARTS = ("sentence", "answer")
MARKINGS = (None, *Marking)
NOT_PARSED = {"nothing", "unknown word", "not a sentence", "no lead word", "unfinished"}
"""The reasons of words that are no sentence; the others are of sentences with a bad number."""


def parses(text: str, start: str, marking: Marking | None = None) -> bool:
    got = understand(text, Context(marking, asking=start == "answer"))
    return not (isinstance(got, Miss) and got.reason in NOT_PARSED)


@cache
def through_every_arc(language: Automaton) -> tuple[str, ...]:
    """One of the shortest sentences through each arc."""
    after: dict[int, list[tuple[str, int]]] = defaultdict(list)
    before: dict[int, list[tuple[str, int]]] = defaultdict(list)
    for arc in language.arcs:
        after[arc.source].append((arc.word, arc.target))
        before[arc.target].append((arc.word, arc.source))

    def shortest(starts: set[int], step: dict[int, list[tuple[str, int]]]) -> dict[int, list[str]]:
        found: dict[int, list[str]] = {state: [] for state in starts}
        queue = deque(sorted(starts))
        while queue:
            state = queue.popleft()
            for word, beyond in step[state]:
                if beyond not in found:
                    found[beyond] = [*found[state], word]
                    queue.append(beyond)
        return found

    heads = shortest({0}, after)
    tails = shortest(set(language.finals), before)
    return tuple(" ".join([*heads[arc.source], arc.word, *reversed(tails[arc.target])]) for arc in language.arcs)


@pytest.mark.parametrize("marking", MARKINGS)
@pytest.mark.parametrize("start", STARTS)
def test_automaton_is_deterministic_and_trim(start: str, marking: Marking | None) -> None:
    language = compile_language(start, marking)
    steps = [(arc.source, arc.word) for arc in language.arcs]
    assert len(set(steps)) == len(steps)
    states = {arc.source for arc in language.arcs} | {arc.target for arc in language.arcs}
    assert states == set(range(len(states)))
    assert language.finals <= states
    assert len(through_every_arc(language)) == len(language.arcs)  # each arc is reached and ends


@pytest.mark.parametrize("start", STARTS)
def test_automaton_is_minimal(start: str) -> None:
    """No two states have the same continuations: Moore's refinement leaves them all apart."""
    language = compile_language(start)
    steps: dict[int, dict[str, int]] = defaultdict(dict)
    for arc in language.arcs:
        steps[arc.source][arc.word] = arc.target
    states = {0} | {arc.target for arc in language.arcs}
    block = {state: int(state in language.finals) for state in states}
    while True:
        keys = {s: (block[s], *sorted((w, block[t]) for w, t in steps[s].items())) for s in states}
        numbers = {key: number for number, key in enumerate(set(keys.values()))}
        if len(numbers) == len(set(block.values())):
            break
        block = {state: numbers[keys[state]] for state in states}
    assert len(set(block.values())) == len(states)


@pytest.mark.slow
@pytest.mark.parametrize("start", STARTS)
def test_every_path_of_the_automaton_parses(start: str) -> None:
    lost = [s for s in through_every_arc(compile_language(start)) if not parses(s, start)]
    assert not lost, lost[:10]


@pytest.mark.parametrize("marking", MARKINGS)
@pytest.mark.parametrize("start", STARTS)
def test_random_walks_of_the_automaton_parse(start: str, marking: Marking | None) -> None:
    language = compile_language(start, marking)
    after: dict[int, list[tuple[str, int]]] = defaultdict(list)
    for arc in language.arcs:
        after[arc.source].append((arc.word, arc.target))
    dice = random.Random(5)
    for _ in range(400):
        words: list[str] = []
        state = 0
        while not (state in language.finals and (not after[state] or dice.random() < 0.3)):
            word, state = dice.choice(after[state])
            words.append(word)
            assert len(words) < 60
        assert parses(" ".join(words), start, marking), " ".join(words)


@pytest.mark.parametrize("marking", MARKINGS)
@pytest.mark.parametrize("start", STARTS)
def test_samples_are_of_the_language(start: str, marking: Marking | None) -> None:
    """2000 sentences a start: in the automaton, and a meaning or a documented miss on every rod."""
    language = compile_language(start, marking)
    for text in sample(500, seed=11, start=start, marking=marking):
        assert language.accepts(text), text
        assert compile_language(start).accepts(text), text
        for rod in MARKINGS if marking is None else [marking]:
            assert parses(text, start, rod), text


def test_samples_are_the_same_for_the_same_seed() -> None:
    assert list(sample(50, 3)) == list(sample(50, 3))
    assert list(sample(50, 3)) != list(sample(50, 4))


def test_what_does_not_parse_is_not_accepted() -> None:
    """A word left out, doubled or changed: the automaton never takes more than the parser."""
    language = compile_language("sentence")
    every = sorted(language.words)
    dice = random.Random(7)
    taken = 0
    for text in sample(700, seed=13):
        words = text.split()
        at = dice.randrange(len(words))
        changed = dice.choice(
            [
                words[:at] + words[at + 1 :],
                words[: at + 1] + words[at:],
                [*words[:at], dice.choice(every), *words[at + 1 :]],
            ]
        )
        broken = " ".join(changed)
        if language.accepts(broken):
            taken += 1
            assert parses(broken, "sentence"), broken
    assert taken < 700


def test_spoken_words_are_plain_and_known() -> None:
    for start in STARTS:
        for word in compile_language(start).words:
            assert word.isascii() and word.isalpha() and word.islower()
            assert word in table().terminals


def test_spoken_cases_are_in_the_automaton() -> None:
    """What the topic files accept an ear can hear, but for the forms that are only typed."""
    lost = []
    for case in cases():
        asking = bool(case.data.get("asking"))
        text = case.data["say"]
        language = compile_language("answer" if asking else "sentence")
        if "means" in case.data and set(text.split()) <= language.words:
            typed_only = {"thousand", "hundred"} & set(text.split())
            lead = case.data["means"]["kind"] not in ("convert slope", "convert length")
            if not language.accepts(text) and not typed_only and lead:
                lost.append(text)
    assert not lost


@pytest.mark.parametrize("topic", topics())
def test_every_example_parses(topic: str) -> None:
    assert len(examples(topic)) >= 3
    assert len(set(examples(topic))) == len(examples(topic))
    for example in examples(topic):
        assert not isinstance(understand(example, Context(Marking.INCHES)), Miss), example


def test_deciding_phrases_are_far_apart() -> None:
    """No deciding phrase shares a word with another, and each has two syllables or more."""
    deciding = ["confirm", "scratch that", "say again", "never mind"]
    words = [word for phrase in deciding for word in phrase.split()]
    assert len(set(words)) == len(words)
    for phrase in deciding:
        assert compile_language("answer").accepts(phrase)
    for alone in ("yes", "no", "okay", "scratch", "again", "mind"):
        assert isinstance(understand(alone, Context(Marking.INCHES, asking=True)), Miss)


# No text raises -----------------------------------------------------------------------------------

FIGURED = ["3'9\"", "3-9 1/2", "0+40", "12+50.5", "2%", "1/4", '9 5/8"', "1:80", "in", "ft", "mm"]
TYPED = {"mm", "cm", "ft", "in", "m"}
"""Units that are typed, with a figure before them or not."""

SIGNS = ["'", '"', "-", "+", "/", ".", ",", "%", "&", "½", "0", "1", "00", "9/0", "1e9", "٣", "²"]
PIECES = st.sampled_from([*sorted(table().terminals), *FIGURED, *SIGNS])


WORD = re.compile("[a-z]+")


def answered(text: str, marking: Marking | None, asking: bool = False) -> None:
    """The text has a meaning, all of whose words are known, or a miss whose reason is documented, with a few hints."""
    got = understand(text, Context(marking, asking))
    if isinstance(got, Miss):
        assert got.reason in REASONS and len(got.could_follow) <= 3 and len(got.choices) != 1
    else:
        assert set(WORD.findall(text.lower())) <= table().terminals.keys() | TYPED, text
    assert understand(text, Context(marking, asking)) == got


@given(st.text(max_size=200), st.sampled_from(MARKINGS), st.booleans())
def test_any_text(text: str, marking: Marking | None, asking: bool) -> None:
    answered(text, marking, asking)


@given(st.lists(PIECES, max_size=12), st.sampled_from(["", " "]), st.booleans())
def test_any_heap_of_words(pieces: list[str], between: str, asking: bool) -> None:
    for marking in MARKINGS:
        answered(between.join(pieces), marking, asking)


@given(st.sampled_from(["reading ", "baseline ", "benchmark ", "what is ", "grade rod at "]), PIECES)
@pytest.mark.parametrize("marking", MARKINGS)
def test_any_piece_after_a_lead_word(marking: Marking | None, lead: str, piece: str) -> None:
    answered(lead + piece, marking)


FIGURES = st.text(alphabet="0123456789 .,'\"-+/:%½ ft in m", max_size=14)


@given(FIGURES, st.sampled_from(["reading {}", "what should i read at {}", "tolerance {}", "{}"]))
def test_any_figures(figures: str, sentence: str) -> None:
    for marking in MARKINGS:
        answered(sentence.format(figures), marking, True)
