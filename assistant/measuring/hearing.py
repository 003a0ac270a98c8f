"""How well an ear hears: people's numbers from the shared recordings, and the bundled sentences. No gate."""

from __future__ import annotations

import csv
from collections import defaultdict
from collections.abc import Iterator
from dataclasses import dataclass, field
from pathlib import Path
from time import process_time

import numpy as np

from assistant.hearing.endpoint import utterances
from assistant.hearing.port import SAMPLE_RATE, Ear
from assistant.hearing.sources import blocks
from grammar.automaton import Arc, Automaton, compile_language
from grammar.meanings import Miss
from grammar.quantities import Marking
from grammar.understand import Context, understand

NUMBER_WORDS = frozenset(
    "zero oh one two three four five six seven eight nine ten eleven twelve thirteen fourteen fifteen sixteen "
    "seventeen eighteen nineteen twenty thirty forty fifty sixty seventy eighty ninety hundred".split()
)
MOST_WORDS = 12


@dataclass
class Score:
    """Errors over clips of one kind."""

    clips: int = 0
    words: int = 0
    errors: int = 0
    whole: int = 0
    seconds: float = 0.0
    cpu: float = 0.0

    def line(self) -> str:
        """As printed."""
        return (
            f"{self.clips:5} clips  words wrong {self.errors / max(1, self.words):6.1%}  "
            f"whole clips right {self.whole / max(1, self.clips):6.1%}  "
            f"CPU {self.cpu / max(self.seconds, 1e-9):.3f} s/s"
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


def any_numbers() -> Automaton:
    """One to twelve number words in any order: what people say in number recordings."""
    arcs = tuple(Arc(state, state + 1, word) for state in range(MOST_WORDS) for word in sorted(NUMBER_WORDS))
    return Automaton("numbers", frozenset(range(1, MOST_WORDS + 1)), arcs)


def people(ear: Ear, speech: Path, split: str = "dev") -> Iterator[tuple[str, Score]]:
    """Scores by source over the clips of people that hold nothing but number words."""
    scores: dict[str, Score] = defaultdict(Score)
    language = any_numbers()
    with (speech / "manifest.csv").open() as stream:
        for row in csv.DictReader(stream):
            wanted = row["text"].split()
            if row["split"] == split and wanted and set(wanted) <= NUMBER_WORDS:
                samples = np.concatenate(list(blocks(speech / row["path"])))
                began = process_time()
                guesses = ear.hear(samples, language)
                got = guesses[0].text.split() if guesses else []
                score = scores[row["source_set"]]
                score.cpu += process_time() - began
                score.seconds += len(samples) / SAMPLE_RATE
                score.clips += 1
                score.words += len(wanted)
                score.errors += distance(got, wanted)
                score.whole += got == wanted
    yield from sorted(scores.items())


def bundled(ear: Ear, folder: Path) -> Iterator[tuple[str, Sentences]]:
    """Results over the bundled sentences by their ratio of speech to noise in decibels."""
    results: dict[str, Sentences] = defaultdict(Sentences)
    language = compile_language("sentence", Marking.INCHES)
    context = Context(Marking.INCHES)
    with (folder / "manifest.csv").open() as stream:
        for row in csv.DictReader(stream):
            if not row["file"].startswith("sentences/"):
                continue
            heard = [ear.hear(u, language) for u in utterances(blocks(folder / row["file"]))]
            meanings = [understand(h[0].text, context) for h in heard if h]
            taken = [m for m in meanings if not isinstance(m, Miss)]
            result = results[row["ratio_db"]]
            if taken == [understand(row["words"], context)]:
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
