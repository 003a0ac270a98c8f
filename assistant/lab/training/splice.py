"""People's single words put together to runs, alone and within spoken sentences.

It is the nearest that there is to people who say numbers of many digits.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Iterator
from itertools import groupby

import numpy as np

from assistant.lab.training.packs import SAMPLE_RATE, Audio, Row
from assistant.lab.training.voices import Spoken

Clips = list[tuple[Audio, Row]]
"""What was said in recordings."""

DIGITS = frozenset("zero one two three four five six seven eight nine".split())

ONE_SPEAKER = 0.6
"""The share of runs that one person says, where a person said enough; words of the others come from anybody."""

FEWEST = 4
"""Words of a person from which a run of his own is made."""

FRAME = SAMPLE_RATE // 100
FAINT = 1e-3
"""The power of a frame, of that of the loudest, at which a word begins and ends: 30 dB under it."""


def spliced(everyone: Clips, count: int, seed: int) -> Iterator[Spoken]:
    """Say `count` runs of two to seven of people's words: mostly digits, close together or apart."""
    digits = [one for one in everyone if set(one[1].words) <= DIGITS]
    by_speaker: dict[str, list[tuple[Audio, Row]]] = defaultdict(list)
    for one in everyone:
        by_speaker[one[1].speaker].append(one)
    able = [said for said in by_speaker.values() if len(said) >= FEWEST]
    dice = np.random.default_rng(seed)
    for _ in range(count):
        if able and dice.random() < ONE_SPEAKER:
            among = able[dice.integers(len(able))]
        else:
            among = digits if dice.random() < 0.8 else everyone
        some = [among[dice.integers(len(among))] for _ in range(dice.integers(2, 8))]
        speakers = "+".join(sorted({row.speaker for _, row in some}))
        yield _run([audio for audio, _ in some], dice), [w for _, row in some for w in row.words], speakers, []


def carriers(sentences: Iterable[str]) -> Iterator[str]:
    """What is said between the digits of sentences, for a synthesizer to speak."""
    return (part for sentence in sentences for part in _parts(sentence) if part not in DIGITS)


def carried(sentences: Iterable[str], people: Clips, carrier: Clips, seed: int) -> Iterator[Spoken]:
    """Say sentences, their digits by people, what is between them by a synthesizer.

    Most sentences have the digits of one person, as far as that person said them.
    """
    by_word: dict[str, list[tuple[Audio, Row]]] = defaultdict(list)
    own: dict[str, dict[str, list[tuple[Audio, Row]]]] = defaultdict(lambda: defaultdict(list))
    for one in people:
        if len(one[1].words) == 1:
            by_word[one[1].words[0]].append(one)
            own[one[1].speaker][one[1].words[0]].append(one)
    between: dict[str, list[tuple[Audio, Row]]] = defaultdict(list)
    for one in carrier:
        between[" ".join(one[1].words)].append(one)
    able = [said for said in own.values() if len(DIGITS & said.keys()) >= FEWEST]
    dice = np.random.default_rng(seed)
    for sentence in sentences:
        mine = able[dice.integers(len(able))] if able and dice.random() < ONE_SPEAKER else {}
        takes = [
            (mine.get(part) or by_word.get(part)) if part in DIGITS else between.get(part) for part in _parts(sentence)
        ]
        parts = [some[dice.integers(len(some))] for some in takes if some]
        if all(takes):
            speakers = "+".join(sorted({row.speaker for _, row in parts}))
            yield _run([audio for audio, _ in parts], dice), sentence.split(), speakers, []


def _parts(sentence: str) -> Iterator[str]:
    """Each digit of a sentence by itself, and what is between digits as a whole."""
    for is_digit, run in groupby(sentence.split(), DIGITS.__contains__):
        said = list(run)
        yield from said if is_digit else [" ".join(said)]


def _run(words: list[Audio], dice: np.random.Generator) -> Audio:
    """Put words one after another, at like loudness; the usual pause differs from run to run."""
    pause = dice.uniform(0.0, 0.2)
    parts = [np.zeros(int(0.2 * SAMPLE_RATE), np.float32)]
    for word in words:
        sound = _trimmed(word.astype(np.float32), dice.uniform(0.03, 0.1))
        loud = float(np.sqrt(np.mean(sound**2))) + 1.0
        parts += [
            sound * np.float32(10 ** (dice.normal(0, 2) / 20) / loud),
            np.zeros(int(dice.uniform(0.0, pause) * SAMPLE_RATE), np.float32),
        ]
    whole = np.concatenate([*parts, parts[0]])
    return np.round(whole * (29_000 / float(np.abs(whole).max()))).astype(np.int16)


def _trimmed(
    sound: np.ndarray[tuple[int], np.dtype[np.float32]], margin: float
) -> np.ndarray[tuple[int], np.dtype[np.float32]]:
    """From the first to the last frame that is not faint, and `margin` seconds around it for soft consonants."""
    power = np.mean(sound[: len(sound) // FRAME * FRAME].reshape(-1, FRAME) ** 2, axis=1)
    loud = np.flatnonzero(power > power.max() * FAINT)
    edge = int(margin * SAMPLE_RATE)
    return sound[max(0, loud[0] * FRAME - edge) : (loud[-1] + 1) * FRAME + edge]
