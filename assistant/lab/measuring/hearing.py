"""How well an ear hears: people, an unseen synthesizer in noise, and other talk, against PocketSphinx. No gate."""

from __future__ import annotations

import csv
from collections import defaultdict
from collections.abc import Callable, Iterable, Iterator
from dataclasses import dataclass, field
from pathlib import Path
from time import process_time

from assistant.hearing.endpoint import utterances
from assistant.hearing.port import SAMPLE_RATE, Ear, Samples
from assistant.hearing.sources import blocks
from assistant.lab.measuring.clips import (
    Clip,
    Signal,
    heard_in,
    made_noise,
    people,
    read_aloud,
    site_noises,
    strangers,
)
from grammar.automaton import Arc, Automaton, compile_language
from grammar.meanings import Miss
from grammar.phrases import sample
from grammar.quantities import Marking
from grammar.understand import Context, understand

Line = tuple[str, str, str]
Noise = Callable[[int], Signal]

DIGITS = frozenset("zero oh one two three four five six seven eight nine".split())
NUMBERS = DIGITS | frozenset(
    "ten eleven twelve thirteen fourteen fifteen sixteen seventeen eighteen nineteen twenty thirty forty fifty sixty "
    "seventy eighty ninety hundred thousand and point".split()
)
COMMANDS = frozenset("yes no stop go up down left right on off".split())
PAIRS = [
    ("thirteen", "thirty"),
    ("fourteen", "forty"),
    ("fifteen", "fifty"),
    ("sixteen", "sixty"),
    ("seventeen", "seventy"),
    ("eighteen", "eighty"),
    ("nineteen", "ninety"),
]
FRAMES = ("reading three foot nine at station {}", "what should i read at station {}", "reading {} point two")
"""Sentences in which a teen can be taken for its ten."""

INCHES = Context(Marking.INCHES)
SEED = 99


@dataclass
class Score:
    """What went wrong over clips of one kind."""

    clips: int = 0
    words: int = 0
    errors: int = 0
    whole: int = 0
    meant: int = 0
    refused: int = 0
    seconds: float = 0.0
    cpu: float = 0.0

    @property
    def wrong(self) -> float:
        """Share of words wrong or refused."""
        return self.errors / max(1, self.words)

    def line(self) -> str:
        """As printed."""
        each = max(1, self.clips)
        return (
            f"{self.clips} clips, words wrong {self.wrong:.1%}, whole {self.whole / each:.1%}, refused "
            f"{self.refused / each:.1%}, CPU {self.cpu / max(self.seconds, 1e-9):.3f} s/s"
        )


@dataclass
class Sentences:
    """Bundled sentences: right by meaning, refused, or understood as something else."""

    right: int = 0
    refused: int = 0
    other: list[str] = field(default_factory=list)

    def line(self) -> str:
        """As printed."""
        count = self.right + self.refused + len(self.other)
        return (
            f"{count:5} sentences  right {self.right / count:6.1%}  refused {self.refused / count:6.1%}  "
            f"taken for another {len(self.other) / count:6.1%}"
        )


def runs(words: frozenset[str]) -> Automaton:
    """Any run of words."""
    arcs = tuple(Arc(state, 1, word) for state in (0, 1) for word in sorted(words))
    return Automaton(f"runs of {len(words)} words", frozenset({1}), arcs)


def alone(words: frozenset[str]) -> Automaton:
    """Any one of the words."""
    return Automaton(f"one of {len(words)} words", frozenset({1}), tuple(Arc(0, 1, word) for word in sorted(words)))


def score(
    ear: Ear, clips: Iterable[Clip], language: Automaton, noise: Noise | None = None, ratio: float = 0.0
) -> Score:
    """Hear the clips, in noise `ratio` decibels below the speech."""
    result = Score()
    for number, clip in enumerate(clips):
        samples = heard_in(clip, noise, ratio, number)
        began = process_time()
        guesses = ear.hear(samples, language)
        result.cpu += process_time() - began
        result.seconds += len(samples) / SAMPLE_RATE
        got = guesses[0].text.split() if guesses else []
        result.clips += 1
        result.words += len(clip.words)
        result.errors += distance(got, list(clip.words))
        result.whole += got == list(clip.words)
        result.refused += not got
        if got:
            meaning = understand(" ".join(got), INCHES)
            same = not isinstance(meaning, Miss) and meaning == understand(" ".join(clip.words), INCHES)
            result.meant += same or got == list(clip.words)
    return result


def table(ear: Ear, speech: Path, most: int, other: Callable[[], Ear] | None) -> Iterator[Line]:
    """Every test, on at most so many clips each; beside `other`, where there is one, on the same clips."""
    rival = other() if other else None
    recorded = site_noises(speech)

    def site(number: int) -> Signal:
        return recorded[number % len(recorded)]

    def beside(clips: list[Clip], language: Automaton, noise: Noise | None, ratio: float, ours: Score) -> str:
        if rival is None or rival.missing_words(language):
            return ""
        theirs = score(rival, clips, language, noise, ratio)
        share = f"{ours.errors / theirs.errors:.0%} of the errors of" if theirs.errors else "errors like"
        return f"; {share} {rival.name} ({theirs.wrong:.1%} of words)"

    def row(what: str, clips: list[Clip], language: Automaton, noise: Noise | None = None, ratio: float = 0.0) -> Line:
        ours = score(ear, clips, language, noise, ratio)
        return what, f"{ours.wrong:.1%}", ours.line() + beside(clips, language, noise, ratio, ours)

    digits = people(speech, DIGITS, most)
    yield row("people, digits, words wrong, clean", digits, runs(DIGITS))
    yield row("people, digits, 10 dB made noise", digits, runs(DIGITS), made_noise, 10)
    yield row("people, digits, 10 dB site noise", digits, runs(DIGITS), site, 10)
    yield row("people, several digits (AN4)", people(speech, DIGITS, most, "AN4"), runs(DIGITS))
    yield row("people, numbers (AN4)", people(speech, NUMBERS, most, "AN4"), runs(NUMBERS))
    yield row("people, command words", people(speech, COMMANDS, most), alone(COMMANDS))
    language = compile_language("sentence", Marking.INCHES)
    aloud = read_aloud(sample(most, SEED, "sentence", Marking.INCHES))
    for name, noise, ratio in (("clean", None, 0.0), ("20 dB", site, 20.0), ("10 dB", site, 10.0), ("5 dB", site, 5.0)):
        ours = score(ear, aloud, language, noise, ratio)
        right = f"{ours.meant / ours.clips:.1%} by meaning, "
        remark = right + ours.line() + beside(aloud, language, noise, ratio, ours)
        yield f"unseen voice, sentences right, {name}", f"{ours.whole / ours.clips:.1%}", remark
        if name == "20 dB":
            yield "unseen voice, accepted, 20 dB", f"{1 - ours.refused / ours.clips:.1%}", ""
    yield _teens(ear, language, site)
    others = strangers(speech, language.words, most)
    taken = [_taken(ear, heard_in(clip, None, 0, n), language) for n, clip in enumerate(others)]
    yield "other talk taken for a sentence", f"{sum(taken) / len(taken):.1%}", f"{len(taken)} clips"
    empty = [Clip(sound[: 4 * SAMPLE_RATE], ()) for sound in recorded]
    taken = [_taken(ear, heard_in(clip, None, 0, n), language) for n, clip in enumerate(empty)]
    yield "site noise taken for a sentence", f"{sum(taken) / len(taken):.1%}", f"{len(taken)} clips"


def _taken(ear: Ear, samples: Samples, language: Automaton) -> bool:
    guesses = ear.hear(samples, language)
    return bool(guesses) and not isinstance(understand(guesses[0].text, INCHES), Miss)


def _teens(ear: Ear, language: Automaton, noise: Noise) -> Line:
    """How often a teen is taken for its ten, or the other way round, at 20 dB."""
    said = [(frame.format(a), frame.format(b)) for pair in PAIRS for a, b in (pair, pair[::-1]) for frame in FRAMES]
    clips = read_aloud(text for text, _ in said)
    confused = 0
    for number, (clip, (_, swapped)) in enumerate(zip(clips, said, strict=True)):
        guesses = ear.hear(heard_in(clip, noise, 20, number), language)
        confused += bool(guesses) and guesses[0].text == swapped
    return "teens and tens confused, 20 dB", f"{confused / len(said):.1%}", f"{len(said)} sentences"


def bundled(ear: Ear, folder: Path) -> Iterator[tuple[str, Sentences]]:
    """Results over the bundled sentences by their ratio of speech to noise in decibels."""
    results: dict[str, Sentences] = defaultdict(Sentences)
    language = compile_language("sentence", Marking.INCHES)
    with (folder / "manifest.csv").open() as stream:
        for row in csv.DictReader(stream):
            if not row["file"].startswith("sentences/"):
                continue
            heard = [ear.hear(u, language) for u in utterances(blocks(folder / row["file"]))]
            meanings = [understand(h[0].text, INCHES) for h in heard if h]
            taken = [m for m in meanings if not isinstance(m, Miss)]
            result = results[row["ratio_db"]]
            if taken == [understand(row["words"], INCHES)]:
                result.right += 1
            elif not taken:
                result.refused += 1
            else:
                result.other.append(row["words"])
    yield from sorted(results.items())


def distance(got: list[str], wanted: list[str]) -> int:
    """Words to put in, leave out or change: Levenshtein's distance."""
    row = list(range(len(wanted) + 1))
    for at, word in enumerate(got, 1):
        before, row[0] = row[0], at
        for column, other in enumerate(wanted, 1):
            before, row[column] = (
                row[column],
                min(row[column] + 1, row[column - 1] + 1, before + (word != other)),
            )
    return row[-1]
