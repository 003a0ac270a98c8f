"""The bundled recordings, and where the shared ones would be."""

from __future__ import annotations

import csv
from dataclasses import dataclass
from pathlib import Path

import numpy as np
import numpy.typing as npt
import pytest

from assistant.lab.trial import voices

ROOT = Path(__file__).parent.parent
AUDIO = ROOT / "audio_fixtures"
SHARED = ROOT.parent / "shared"


@dataclass(frozen=True)
class Recording:
    """One bundled sound, with the words that are spoken in it."""

    path: Path
    words: str
    voice: str
    ratio: str


def recordings(ratio: str | None = None, voice: str | None = None) -> list[Recording]:
    """Sentences of the manifest, the demo's left out."""
    with (AUDIO / "manifest.csv").open() as stream:
        every = [
            Recording(AUDIO / row["file"], row["words"], row["voice"], row["ratio_db"])
            for row in csv.DictReader(stream)
            if row["file"].startswith("sentences/")
        ]
    return [r for r in every if (ratio is None or r.ratio == ratio) and (voice is None or r.voice == voice)]


def shared(*parts: str) -> Path:
    """A folder of the shared data; the test is skipped where it is absent."""
    place = SHARED.joinpath(*parts)
    if not place.exists():
        pytest.skip(f"the shared folder {'/'.join(parts)} is not beside the project")
    return place


def aloud(text: str) -> npt.NDArray[np.int16]:
    """The text, said by espeak-ng at a usual loudness."""
    return (np.asarray(voices.voice("espeak-ng library", 1, None)(text)) * 8000).astype(np.int16)
