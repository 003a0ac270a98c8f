"""`rodside record`: a willing person reads sentences aloud; they are kept here, and scored."""

from __future__ import annotations

import argparse
import csv
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from pathlib import Path

import numpy as np
import soundfile

from assistant.environment import Environment, ExitStatus
from assistant.hearing.ears import open_ear
from assistant.hearing.endpoint import utterances
from assistant.hearing.microphone import Microphone
from assistant.hearing.port import SAMPLE_RATE, Ear, Samples
from assistant.hearing.sources import SoundError, blocks
from assistant.lab.measuring.hearing import distance
from grammar.automaton import compile_language
from grammar.meanings import Miss
from grammar.phrases import sample
from grammar.quantities import Marking
from grammar.understand import Context, understand

PROMPTS = 40
SEED = 40
MARKING = Marking.INCHES
LIST = "read.csv"

ASKS = (
    "Each sentence is kept as a sound file in {folder}, and nowhere else: nothing is sent anywhere. Delete the folder "
    "to take it back. Press Enter, then read the line aloud. Type s to skip it, q to end."
)


@dataclass
class Tally:
    """How the ear did on one voice."""

    clips: int = 0
    words: int = 0
    errors: int = 0
    right: int = 0
    refused: int = 0
    other: int = 0

    def line(self) -> str:
        """As printed."""
        return (
            f"{self.clips} sentences: {self.right} right, {self.refused} not heard, {self.other} taken for another; "
            f"{self.errors} of {self.words} words wrong."
        )


def prompts(count: int) -> Iterator[str]:
    """Sentences that mean something, no two alike; the same ones every time."""
    seen: set[str] = set()
    for text in sample(50 * count, SEED, "sentence", MARKING):
        if text not in seen and not isinstance(understand(text, Context(MARKING)), Miss):
            seen.add(text)
            yield text
            if len(seen) == count:
                return


def run(options: argparse.Namespace, world: Environment) -> ExitStatus:
    """Record what is not recorded yet, then score all that is."""
    folder: Path = options.folder
    if not options.score:
        microphone = Microphone(options.device)
        folder.mkdir(parents=True, exist_ok=True)
        world.say(ASKS.format(folder=folder))
        _record(folder, options.prompts, microphone, world)
    read = recorded(folder)
    if not read:
        world.warn(f"rodside: there is nothing recorded in {folder}.")
        return ExitStatus.NOT_UNDERSTOOD
    world.say(scored(open_ear(options.ears, options.model), folder, read, world.say).line())
    return ExitStatus.OK


def recorded(folder: Path) -> dict[str, str]:
    """File names of sentences that were read, with their words."""
    if not (folder / LIST).exists():
        return {}
    with (folder / LIST).open(newline="", encoding="utf-8") as lines:
        return {row["file"]: row["words"] for row in csv.DictReader(lines)}


def keep(folder: Path, name: str, words: str, samples: Samples) -> None:
    """Store a sentence as FLAC, and its words in the list beside it."""
    soundfile.write(folder / name, samples, SAMPLE_RATE, format="FLAC", subtype="PCM_16")
    new = not (folder / LIST).exists()
    with (folder / LIST).open("a", newline="", encoding="utf-8") as lines:
        writer = csv.writer(lines)
        if new:
            writer.writerow(["file", "words"])
        writer.writerow([name, words])


def scored(ear: Ear, folder: Path, read: dict[str, str], say: Callable[[str], None]) -> Tally:
    """Hear every sentence; tell each that was not heard right."""
    language, context, tally = compile_language("sentence", MARKING), Context(MARKING), Tally()
    for name, words in read.items():
        guesses = ear.hear(np.concatenate(list(blocks(folder / name))), language)
        got = guesses[0].text if guesses else ""
        meant = understand(got, context)
        right = got == words or (not isinstance(meant, Miss) and meant == understand(words, context))
        tally.clips += 1
        tally.words += len(words.split())
        tally.errors += distance(got.split(), words.split())
        tally.right += right
        tally.refused += not got
        tally.other += bool(got) and not right
        if not right:
            say(f"{name}: {words!r} was heard as {got!r}.")
    return tally


def _record(folder: Path, count: int, microphone: Microphone, world: Environment) -> None:
    done = recorded(folder)
    for number, words in enumerate(prompts(count), 1):
        name = f"{number:02}.flac"
        if name in done:
            continue
        world.say(f"\n{number} of {count}:  {words}")
        answer = world.stdin.readline()
        if not answer or answer.strip().lower() == "q":
            return
        if answer.strip().lower() == "s":
            continue
        world.say("Read it now.")
        samples = next(utterances(microphone.blocks()), None)
        if samples is None:
            raise SoundError("The microphone gave no speech.")
        keep(folder, name, words, samples)
