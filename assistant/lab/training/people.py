"""Recordings of people, as packs."""

from __future__ import annotations

import csv
import re
from collections import defaultdict
from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from pathlib import Path

import soundfile

from assistant.lab.training.packs import PackWriter, as_int16

KEPT_FOR_JUDGING = frozenset(["1919", "1988", "2035", "2078", "2086", "3570", "4077", "422", "5142", "61"])
"""LibriSpeech speakers that no model of ours may hear in training; nor those of the development split."""

NOT_WANTED = re.compile(r"CC BY-SA|GPL|BY-NC")
"""Licences that we leave out of training: share-alike, and not for commerce."""

LONGEST_PACK = 600.0
"""Seconds of sound in a pack."""


@dataclass(frozen=True)
class Recording:
    """A sound file of one speaker and the words in it."""

    path: Path
    words: list[str]
    speaker: str
    source: str


def listed(manifest: Path, split: str = "train") -> Iterator[Recording]:
    """Yield the usable speech of a manifest: transcribed, of that split, free to share."""
    with manifest.open(newline="", encoding="utf-8") as lines:
        for line in csv.DictReader(lines):
            free = line["redistributable"].startswith("yes") and not NOT_WANTED.search(line["licence"])
            words = _words(line["text"])
            if line["split"] == split and free and words:
                path = manifest.parent / line["path"]
                yield Recording(path, words, line["speaker"], line["source_set"])


def librispeech(root: Path, but: frozenset[str]) -> Iterator[Recording]:
    """Yield LibriSpeech below `root` (its own layout: speaker/chapter/*.trans.txt), without some speakers."""
    for transcript in sorted(root.rglob("*.trans.txt")):
        for line in transcript.read_text().splitlines():
            name, _, text = line.partition(" ")
            speaker = name.split("-")[0]
            paths = [p for p in transcript.parent.glob(f"{name}.*") if p.suffix != ".txt"]
            if speaker not in but and paths and (words := _words(text)):
                yield Recording(paths[0], words, f"libri_{speaker}", "LibriSpeech")


def pack(recordings: Iterable[Recording], folder: Path, name: str, bits: int) -> float:
    """Write recordings as packs folder/name-000 and so on; return the hours."""
    folder.mkdir(parents=True, exist_ok=True)
    hours, seconds, writer = 0.0, LONGEST_PACK, None
    count = 0
    for recording in recordings:
        if seconds >= LONGEST_PACK:
            hours += writer.close() if writer else 0.0
            writer, seconds = PackWriter(folder / f"{name}-{count:03}", bits), 0.0
            count += 1
        audio, rate = soundfile.read(recording.path, dtype="float32")
        samples = as_int16(audio, rate)
        assert writer is not None
        writer.add(samples, recording.words, recording.speaker, recording.source)
        seconds += len(samples) / 16_000
    return hours + (writer.close() if writer else 0.0)


def judged_speakers(manifest: Path) -> frozenset[str]:
    """Give the LibriSpeech speakers that training must not hear."""
    with manifest.open(newline="", encoding="utf-8") as lines:
        dev = {row["speaker"] for row in csv.DictReader(lines) if row["split"] != "train"}
    return KEPT_FOR_JUDGING | {s.removeprefix("libri_") for s in dev if s.startswith("libri_")}


def _words(text: str) -> list[str]:
    """Split a transcript; words that the dictionary lacks are guessed at later."""
    return re.sub(r"[^a-z' ]", " ", text.lower()).split()


def pack_all(manifest: Path, libri: Iterable[Path], folder: Path) -> dict[str, float]:
    """Pack the manifest's training speech by kind, and LibriSpeech; return hours by pack name."""
    kinds: dict[str, list[Recording]] = defaultdict(list)
    roots = list(libri)
    for recording in listed(manifest):
        if recording.source.startswith("LibriSpeech") and roots:
            continue
        kinds["words" if "Commands" in recording.source else "people"].append(recording)
    hours = {name: pack(found, folder, name, 20_000) for name, found in sorted(kinds.items())}
    but = judged_speakers(manifest)
    for i, root in enumerate(roots):
        hours[f"libri{i}"] = pack(librispeech(root, but), folder, f"libri{i}", 12_000)
    return hours
