"""Packs: many utterances in one sound file, with a line of JSON for each. Small to move, quick to read."""

from __future__ import annotations

import json
from collections.abc import Iterable, Iterator
from dataclasses import asdict, dataclass
from pathlib import Path

import numpy as np
import numpy.typing as npt
import soundfile

SAMPLE_RATE = 16_000
Audio = npt.NDArray[np.int16]

OPUS_LEAST, OPUS_MOST = 6_000, 256_000
"""Bits a second at the ends of the sound library's compression scale for Opus."""


@dataclass(frozen=True)
class Row:
    """One utterance of a pack: where it is, in samples, and what is said by whom.

    `phones` are (sound, end in seconds) where a synthesizer told them; empty otherwise.
    """

    start: int
    length: int
    words: list[str]
    speaker: str
    source: str
    phones: list[tuple[str, float]]


class PackWriter:
    """Collects utterances and writes them as `stem`.ogg (Opus) or `stem`.flac, and `stem`.jsonl."""

    def __init__(self, stem: Path, bits: int | None = 24_000) -> None:
        self._stem, self._bits = stem, bits
        self._parts: list[Audio] = []
        self._rows: list[Row] = []
        self._length = 0

    def add(
        self,
        audio: Audio,
        words: list[str],
        speaker: str,
        source: str,
        phones: Iterable[tuple[str, float]] = (),
    ) -> None:
        """Append an utterance."""
        self._rows.append(Row(self._length, len(audio), words, speaker, source, list(phones)))
        self._parts.append(audio)
        self._length += len(audio)

    def close(self) -> float:
        """Write both files, if there is anything to write, and return the hours in them."""
        if not self._rows:
            return 0.0
        audio = np.concatenate(self._parts)
        if self._bits is None:
            soundfile.write(self._stem.with_suffix(".flac"), audio, SAMPLE_RATE)
        else:
            level = 1 - (self._bits - OPUS_LEAST) / (OPUS_MOST - OPUS_LEAST)
            path = self._stem.with_suffix(".ogg")
            with soundfile.SoundFile(path, "w", SAMPLE_RATE, 1, "OPUS", format="OGG", compression_level=level) as out:
                for at in range(0, len(audio), SAMPLE_RATE):
                    out.write(audio[at : at + SAMPLE_RATE])
        lines = (json.dumps(asdict(row)) + "\n" for row in self._rows)
        self._stem.with_suffix(".jsonl").write_text("".join(lines))
        return len(audio) / SAMPLE_RATE / 3600


def read_pack(stem: Path) -> Iterator[tuple[Audio, Row]]:
    """Yield the utterances of a pack in order."""
    path = next(p for p in (stem.with_suffix(".ogg"), stem.with_suffix(".flac")) if p.exists())
    audio, rate = soundfile.read(path, dtype="int16")
    if rate != SAMPLE_RATE:
        raise ValueError(f"{path} has {rate} samples a second, not {SAMPLE_RATE}")
    for line in stem.with_suffix(".jsonl").read_text().splitlines():
        fields = json.loads(line)
        fields["phones"] = [(sound, end) for sound, end in fields["phones"]]
        row = Row(**fields)
        yield audio[row.start : row.start + row.length], row


def as_int16(audio: npt.NDArray[np.floating], rate: int, peak: float = 0.9) -> Audio:
    """Resample float audio to 16 kHz, scale its highest peak to `peak`, and round."""
    import soxr

    mono = audio if audio.ndim == 1 else audio.mean(axis=1)
    if rate != SAMPLE_RATE:
        mono = soxr.resample(mono.astype(np.float32), rate, SAMPLE_RATE)
    scaled = mono * (peak / max(float(np.abs(mono).max(initial=0.0)), 1e-3))
    return np.round(scaled * 32767).astype(np.int16)
