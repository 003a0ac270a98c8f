"""Sound from files, as one channel at the ear's rate."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

import numpy as np
import soundfile
import soxr

from assistant.environment import ExitStatus, Trouble
from assistant.hearing.port import SAMPLE_RATE, Samples

BLOCK_SECONDS = 0.5
"""How much of a file is in memory at a time."""


class SoundError(Trouble):
    """A sound file or a sound device cannot be used."""

    status = ExitStatus.SOUND


def blocks(path: Path) -> Iterator[Samples]:
    """Read WAV, FLAC or OGG of any rate, width and number of channels, block by block. Raises `SoundError`."""
    if path.is_dir():
        raise SoundError(f"{path} is a folder, not a sound file.")
    if not path.exists():
        raise SoundError(f"There is no file {path}.")
    try:
        with soundfile.SoundFile(path) as sound:
            if sound.frames == 0:
                raise SoundError(f"{path} holds no sound.")
            fit = soxr.ResampleStream(sound.samplerate, SAMPLE_RATE, 1, dtype="float32")
            size = max(1, int(sound.samplerate * BLOCK_SECONDS))
            while True:
                block = sound.read(size, dtype="float32", always_2d=True)
                last = len(block) < size
                yield to_samples(fit.resample_chunk(block.mean(axis=1), last=last))
                if last:
                    return
    except TypeError as trouble:  # a file without a header, by its ending
        raise SoundError(f"{path} does not say what sound it holds; give WAV, FLAC or OGG.") from trouble
    except soundfile.LibsndfileError as trouble:
        raise SoundError(
            f"{path} is not a sound file that can be read (WAV, FLAC or OGG): {trouble.error_string}"
        ) from trouble


def to_samples(sound: np.typing.NDArray[np.float32]) -> Samples:
    """From -1..1 to 16 bits, clipped; what is no number is silence."""
    known = np.nan_to_num(sound, nan=0.0, posinf=1.0, neginf=-1.0)
    return np.clip(np.round(known * 32767.0), -32768, 32767).astype(np.int16)
