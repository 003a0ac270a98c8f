"""Collect what training needs in one folder: python -m assistant.lab.training.gather MANIFEST OUT LIBRISPEECH...

OUT/packs (people), OUT/noise, OUT/texts.json (what each synthesizer reads) and OUT/lexicon.json.
"""

from __future__ import annotations

import csv
import json
import random
import sys
from collections import Counter
from collections.abc import Iterator
from importlib.resources import files
from pathlib import Path

import numpy as np
import soundfile

from assistant.lab.training.lexicon import guessed, lexicon, pronunciations
from assistant.lab.training.packs import OPUS_LEAST, OPUS_MOST, as_int16
from assistant.lab.training.people import NOT_WANTED, pack_all
from assistant.lab.training.splice import carriers
from assistant.lab.trial.truth import Job
from grammar.phrases import sample
from grammar.quantities import Marking

COUNTS = {"espeak": 20_000, "flite": 2_500, "piper": 2_000, "festival": 2_000, "kokoro": 6_000}
CARRIED = 5000
"""Sentences whose digits people say."""

MOST_SPOKEN = 12
"""Times that the same of it is spoken, by any voice."""

DIGITS = "zero oh one two three four five six seven eight nine".split()
TEENS = "ten eleven twelve thirteen fourteen fifteen sixteen seventeen eighteen nineteen".split()
TENS = "twenty thirty forty fifty sixty seventy eighty ninety".split()
DIGIT_BY_DIGIT = 1_000_000
"""The seed of days of which people say the digits."""

LOUDNESS = 64_000
FIRST_DAY = 10_000_000
"""The seed of the first simulated day of which sentences are taken."""


def number(dice: random.Random) -> list[str]:
    """A number or a run of digits, said in any usual way."""
    below = dice.choice(
        [[dice.choice(DIGITS)], [dice.choice(TEENS)], [dice.choice(TENS)], [dice.choice(TENS), dice.choice(DIGITS[2:])]]
    )
    kind = dice.randrange(5)
    if kind == 0:
        return dice.choices(DIGITS, k=dice.randint(1, 7))
    if kind == 1:
        return [*below, "point", *dice.choices(DIGITS, k=dice.randint(1, 3))]
    if kind == 2:
        return [dice.choice(DIGITS[2:]), dice.choice(["hundred", "thousand"]), *dice.choice([[], ["and"]]), *below]
    if kind == 3:
        return [
            *below,
            dice.choice(["foot", "feet", "inches", "meters", "percent"]),
            *dice.choice([[], [dice.choice(TEENS + DIGITS[2:])]]),
        ]
    return below


def texts(count: int, seed: int, general: list[list[str]]) -> Iterator[str]:
    """Sentences of the grammar and of simulated days, numbers, stretches of general English, words in any order."""
    dice = random.Random(seed)
    walks = [s for mark in (None, *Marking) for s in sample(count // 6, seed, "sentence", mark)]
    likely = list(of_days(count // 3, seed))
    plain = [w for w in lexicon() if w.isalpha() and len(w) > 2]
    known = sorted({w for s in walks for w in s.split()} | set(trade_words()))
    for _ in range(count):
        kind = dice.random()
        if kind < 0.2:
            yield " ".join(_other_than_zero(word, dice) for word in dice.choice(walks).split())
        elif kind < 0.6:
            yield " ".join(_another_teen(word, dice) for word in dice.choice(likely).split())
        elif kind < 0.75:
            yield " ".join(number(dice))
        elif kind < 0.83:
            yield " ".join(dice.choices(known, k=dice.randint(1, 5)))
        elif kind < 0.95:
            words = dice.choice(general)
            length = dice.randint(3, 9)
            at = dice.randint(0, max(0, len(words) - length))
            yield " ".join(words[at : at + length])
        else:
            yield " ".join(dice.choices(plain, k=dice.randint(2, 4)))


def of_days(count: int, seed: int, *, digits_only: bool = False) -> Iterator[str]:
    """What is said on simulated days: likely amounts, in likely words. No trial has days of these seeds.

    Some days, or all, have their numbers said digit by digit, and no rod in feet and inches then.
    """
    for day in range(FIRST_DAY + seed, FIRST_DAY + seed + count):
        by_digits = digits_only or day % 5 == 0
        rod = (Marking.TENTHS, Marking.METRIC)[day % 2] if digits_only else list(Marking)[day % 3]
        for truth in Job(day, rod, digit_by_digit=by_digits).day():
            yield truth.text
            count -= 1
        if count <= 0:
            return


def trade_words() -> list[str]:
    """Words of the trade, of which the grammar may get more."""
    return files("assistant.lab.training").joinpath("trade.txt").read_text("utf-8").split()


def _other_than_zero(word: str, dice: random.Random) -> str:
    """Random walks say zero far more than people do."""
    return dice.choice(DIGITS[2:]) if word == "zero" and dice.random() < 0.7 else word


def _another_teen(word: str, dice: random.Random) -> str:
    """Teens and tens are told apart by little, and days have few of them."""
    return dice.choice(TEENS[3:] + TENS) if word in TEENS[3:] + TENS and dice.random() < 0.5 else word


def copy_noise(manifest: Path, folder: Path) -> None:
    """Write the recorded noise that is free to share as Opus."""
    folder.mkdir(parents=True, exist_ok=True)
    with manifest.open(newline="", encoding="utf-8") as lines:
        rows = [r for r in csv.DictReader(lines) if r["path"].startswith("noise/")]
    for row in rows:
        if row["redistributable"].startswith("yes") and not NOT_WANTED.search(row["licence"]):
            audio, rate = soundfile.read(manifest.parent / row["path"], dtype="float32")
            path = folder / Path(row["path"]).with_suffix(".ogg").name
            level = 1 - (LOUDNESS - OPUS_LEAST) / (OPUS_MOST - OPUS_LEAST)
            with soundfile.SoundFile(path, "w", 16_000, 1, "OPUS", format="OGG", compression_level=level) as out:
                out.write(as_int16(np.asarray(audio), rate))


def main(manifest: Path, out: Path, libri: list[Path]) -> None:
    """Gather everything; seeds are fixed."""
    if not (out / "packs").exists():
        print(pack_all(manifest, libri, out / "packs"))
    copy_noise(manifest, out / "noise")
    said = [
        json.loads(line)["words"]
        for p in sorted((out / "packs").glob("*.jsonl"))
        for line in p.read_text().splitlines()
    ]
    spoken = {
        name: list(texts(count, i, [s for s in said if len(s) > 4])) for i, (name, count) in enumerate(COUNTS.items())
    }
    spoken["carried"] = list(of_days(CARRIED, DIGIT_BY_DIGIT, digits_only=True))
    between = Counter(carriers(spoken["carried"]))
    spoken["carrier"] = [phrase for phrase, count in between.items() for _ in range(min(count, MOST_SPOKEN))]
    words = {w for some in spoken.values() for text in some for w in text.split()} | {w for s in said for w in s}
    (out / "texts.json").write_text(json.dumps(spoken))
    known = {word for word in words if word in lexicon()}
    (out / "lexicon.json").write_text(json.dumps({**guessed(words - known), **pronunciations(known)}))


if __name__ == "__main__":
    main(Path(sys.argv[1]), Path(sys.argv[2]), [Path(p) for p in sys.argv[3:]])
