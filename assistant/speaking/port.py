"""What a voice is: words in, samples out."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path
from typing import Protocol

import numpy as np
import numpy.typing as npt

from assistant.environment import ExitStatus, Trouble


class VoiceError(Trouble):
    """No voice, or no loudspeaker."""

    status = ExitStatus.SOUND


@dataclass(frozen=True)
class Speech:
    """One channel of 16-bit samples at `rate` samples a second."""

    samples: npt.NDArray[np.int16]
    rate: int

    @property
    def seconds(self) -> float:
        """How long it lasts."""
        return len(self.samples) / self.rate


class Voice(Protocol):
    """A speaker of plain words. Numbers are words before they come here."""

    name: str

    def say(self, text: str) -> Speech:
        """Speak. Raises `VoiceError`."""
        ...


def to_wav(path: Path, speech: Speech) -> None:
    """Write speech as a WAV file."""
    import soundfile

    soundfile.write(path, speech.samples, speech.rate, subtype="PCM_16")
