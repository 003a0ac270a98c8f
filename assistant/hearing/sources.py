"""Sound from files, as one channel at the ear's rate."""

from __future__ import annotations

import re
from collections.abc import Iterator
from pathlib import Path

import numpy as np
import soundfile
import soxr

from assistant.environment import ExitStatus, Trouble
from assistant.hearing.port import SAMPLE_RATE, Samples

BLOCK_SECONDS = 0.5
"""How much of a file is in memory at a time."""


LONGEST = 4 * 3600
"""Seconds of one file that are heard: half a day on site. Our own choice, so that no file goes on for ever."""

MOST_VALUES = LONGEST * 96_000 * 2
"""Values of one file that are decoded, all channels together: the longest in stereo at 96 kHz. Our own choice."""

RATES = range(4_000, 400_001)
"""Samples a second that a file may have: under them speech cannot be told apart, over them nothing records."""

MOST_CHANNELS = 32
"""Channels that a file may have. With the rate it bounds the memory that a block takes, whatever a header says."""

UNKNOWN_BYTES = 0x7FFF0000
"""Bytes of sound from which the header of a WAV file means that its length was not known when it was written."""


class SoundError(Trouble):
    """A sound file or a sound device cannot be used."""

    status = ExitStatus.SOUND


def blocks(path: Path) -> Iterator[Samples]:
    """Read WAV, FLAC or OGG of any rate, width and number of channels, block by block. Raises `SoundError`."""
    if path.is_dir():
        raise SoundError(f"{path} is a folder, not a sound file.")
    if not path.exists():
        raise SoundError(f"There is no file {path}.")
    read, rate = 0, SAMPLE_RATE
    try:
        with soundfile.SoundFile(path) as sound:
            if sound.frames == 0:
                raise SoundError(f"{path} holds no sound.")
            rate, channels = sound.samplerate, sound.channels
            if rate not in RATES or channels > MOST_CHANNELS:
                raise SoundError(
                    f"{path} says that it has {rate} samples a second in {channels} channels. I hear {RATES[0]} to "
                    f"{RATES[-1]} samples a second, in {MOST_CHANNELS} channels at most."
                )
            most = min(LONGEST * rate, MOST_VALUES // channels)
            fit = soxr.ResampleStream(rate, SAMPLE_RATE, 1, dtype="float32")
            size = max(1, int(rate * BLOCK_SECONDS))
            while True:
                block = sound.read(size, dtype="float32", always_2d=True)
                if read + len(block) > most:
                    raise _too_long(path, most / rate)
                read += len(block)
                last = len(block) < size
                yield to_samples(fit.resample_chunk(block.mean(axis=1), last=last))
                if last:
                    if _is_cut_off(sound):
                        raise _broken_off(path, read / rate, "the file is shorter than it says")
                    return
    except TypeError as trouble:  # a file without a header, by its ending
        raise SoundError(f"{path} does not say what sound it holds; give WAV, FLAC or OGG.") from trouble
    except soundfile.LibsndfileError as trouble:
        if read:
            raise _broken_off(path, read / rate, trouble.error_string) from trouble
        raise SoundError(
            f"{path} is not a sound file that can be read (WAV, FLAC or OGG): {trouble.error_string}"
        ) from trouble


def clock(seconds: float) -> str:
    """A place in a sound as hours, minutes and whole seconds, such as 1:02:03 or 2:03."""
    minutes, second = divmod(int(seconds), 60)
    hour, minute = divmod(minutes, 60)
    return f"{hour}:{minute:02}:{second:02}" if hour else f"{minute}:{second:02}"


def _too_long(path: Path, seconds: float) -> SoundError:
    return SoundError(
        f"{path} is too long: it was heard to {clock(seconds)}, and what was being said there was not taken. Cut it at "
        "pauses into shorter files and give the rest; ffmpeg -ss START -t LENGTH -i FILE PART does it."
    )


def _broken_off(path: Path, seconds: float, why: str) -> SoundError:
    return SoundError(f"{path} breaks off at {clock(seconds)}, and what was being said there was not taken: {why}.")


def _is_cut_off(sound: soundfile.SoundFile) -> bool:
    """Whether a WAV file has a tenth of a second less, or more, than its header promised.

    The library reads what there is, and tells of the difference in its notes alone.
    """
    noted = re.search(r"^\s*data : (\d+) \(should be (\d+)\)", sound.extra_info, re.MULTILINE)
    if noted is None or int(noted[1]) >= UNKNOWN_BYTES:
        return False
    return int(noted[1]) - int(noted[2]) > int(sound.samplerate) * int(sound.channels) // 10


def to_samples(sound: np.typing.NDArray[np.float32]) -> Samples:
    """From -1..1 to 16 bits, clipped; what is no number is silence."""
    known = np.nan_to_num(sound, nan=0.0, posinf=1.0, neginf=-1.0)
    return np.clip(np.round(known * 32767.0), -32768, 32767).astype(np.int16)
