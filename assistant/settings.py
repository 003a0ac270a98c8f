"""What a person set once and for all, in one small file that the program only reads."""

from __future__ import annotations

import tomllib
from dataclasses import dataclass
from pathlib import Path

from assistant.environment import ExitStatus, Trouble


class BadSettings(Trouble):
    """The file of settings says something that cannot be."""

    status = ExitStatus.USAGE


@dataclass(frozen=True)
class Settings:
    """`keep_audio`: whether the sound of what is written is kept; `audio_days`: for how long, 0 for ever.

    `headset`: whether the microphone cannot hear the answers, so that it may listen while they are spoken.
    `lead`: whether only what begins with the lead word is heard, and what answers a question.
    """

    keep_audio: bool = True
    audio_days: int = 0
    headset: bool = False
    lead: bool = False


def read(path: Path) -> Settings:
    """The settings of a file, or the usual ones where there is none. Raises `BadSettings`."""
    try:
        data = tomllib.loads(path.read_text("utf-8"))
    except FileNotFoundError:
        return Settings()
    except (OSError, ValueError) as trouble:
        raise BadSettings(f"{path} cannot be read: {trouble}; mend or remove it.") from trouble
    usual = Settings()
    for name, value in data.items():
        if type(value) is not type(getattr(usual, name, None)) or (type(value) is int and value < 0):
            raise BadSettings(
                f"{path}: {name} = {value!r} is no setting; there are keep_audio, audio_days, headset and lead."
            )
    return Settings(**data)
