"""People's single words put together to runs: the nearest that there is to people who say numbers of many digits."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterator
from pathlib import Path

import numpy as np

from assistant.hearing.train.packs import SAMPLE_RATE, Audio, Row, read_pack
from assistant.hearing.train.voices import Spoken

DIGITS = frozenset("zero one two three four five six seven eight nine".split())

ONE_SPEAKER = 0.6
"""The share of runs that one person says, where a person said enough; words of the others come from anybody."""

FEWEST = 4
"""Words of a person from which a run of his own is made."""

FRAME = SAMPLE_RATE // 100
FAINT = 1e-3
"""The power of a frame, of that of the loudest, at which a word begins and ends: 30 dB under it."""


def spliced(packs: Path, count: int, seed: int) -> Iterator[Spoken]:
    """Say `count` runs of two to seven words, of the packs words-*: mostly digits, close together or apart."""
    everyone = [one for path in sorted(packs.glob("words-*.jsonl")) for one in read_pack(path.with_suffix(""))]
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
