"""What a page may send: messages as JSON, sound as numbered frames. Anything else is `Bad`.

A frame of sound is the number of the utterance and the number of the frame within it, from 0 (two little-endian
unsigned 32-bit integers), then one channel of little-endian 16-bit samples at 16 kHz.
"""

from __future__ import annotations

import json
import re
import struct
from dataclasses import dataclass
from typing import Any

from assistant.hearing.port import SAMPLE_RATE

LONGEST_TEXT = 300
LONGEST_MESSAGE = 2_000
LONGEST_FRAME = 8 + SAMPLE_RATE // 2 * 2
"""Bytes: half a second."""

LONGEST_SOUND = 15 * SAMPLE_RATE * 2
"""Bytes of one utterance; the page ends one sooner."""

MOST = 2**31

RUN = re.compile(r"[0-9a-f]{16}")
"""The name of one life of a page: what it numbers, it numbers within that life."""

_HEAD = struct.Struct("<II")


@dataclass(frozen=True)
class Begin:
    """An utterance begins. `after` is the last one whose answer had been shown, `seen` the last entry shown."""

    number: int
    after: int
    seen: int


@dataclass(frozen=True)
class Typed:
    """A whole utterance as text; `after` and `seen` as in `Begin`."""

    number: int
    after: int
    seen: int
    text: str


@dataclass(frozen=True)
class Frame:
    """A piece of sound."""

    number: int
    index: int
    sound: bytes


@dataclass(frozen=True)
class End:
    """All of an utterance, `frames` frames, was sent."""

    number: int
    frames: int


@dataclass(frozen=True)
class Drop:
    """An utterance is not meant after all."""

    number: int


@dataclass(frozen=True)
class Bad:
    """No message of ours."""

    why: str


Message = Begin | Typed | Frame | End | Drop | Bad

_FIELDS: dict[str, tuple[type[Begin | Typed | End | Drop], tuple[str, ...]]] = {
    "begin": (Begin, ("number", "after", "seen")),
    "typed": (Typed, ("number", "after", "seen", "text")),
    "end": (End, ("number", "frames")),
    "drop": (Drop, ("number",)),
}


def read_text(text: str) -> Message:
    """Read a message."""
    if len(text) > LONGEST_MESSAGE:
        return Bad("too long")
    try:
        data = json.loads(text)
    except (ValueError, RecursionError):
        return Bad("not JSON")
    if not isinstance(data, dict) or not isinstance(data.get("kind"), str) or data["kind"] not in _FIELDS:
        return Bad("no such kind")
    message, names = _FIELDS[data["kind"]]
    values: dict[str, Any] = {name: data.get(name) for name in names}
    for name, value in values.items():
        if name == "text":
            if not isinstance(value, str) or len(value) > LONGEST_TEXT or not _is_whole(value):
                return Bad("text is no text, or too long")
        elif type(value) is not int or not 0 <= value < MOST:
            return Bad(f"{name} is no number")
    return message(**values)


def _is_whole(text: str) -> bool:
    """Whether a text has no half characters (lone surrogates), which can be neither sent nor written."""
    return not any("\ud800" <= letter <= "\udfff" for letter in text)


def read_bytes(data: bytes) -> Message:
    """Read a frame of sound."""
    if len(data) > LONGEST_FRAME or len(data) <= _HEAD.size or len(data) % 2:
        return Bad("no frame of sound")
    number, index = _HEAD.unpack_from(data)
    if number >= MOST or index >= MOST:
        return Bad("a number is too big")
    return Frame(number, index, data[_HEAD.size :])


def sound_out(number: int, part: int, last: bool, wav: bytes) -> bytes:
    """A part of an answer as sound: the numbers of the utterance and of the part, whether it is the last, a WAV."""
    return _HEAD.pack(number, part * 2 + last) + wav
