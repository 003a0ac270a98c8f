"""The sounds that the model tells apart, and how they are numbered in the decoder's files."""

from __future__ import annotations

VOWELS = ["AA", "AE", "AH", "AO", "AW", "AY", "EH", "ER", "EY", "IH", "IY", "OW", "OY", "UH", "UW"]
CONSONANTS = [
    "B",
    "CH",
    "D",
    "DH",
    "F",
    "G",
    "HH",
    "JH",
    "K",
    "L",
    "M",
    "N",
    "NG",
    "P",
    "R",
    "S",
    "SH",
    "T",
    "TH",
    "V",
    "W",
    "Y",
    "Z",
    "ZH",
]
SILENCE = "SIL"
NOISE = "SPN"

SOUNDS = [SILENCE, NOISE, *sorted(VOWELS + CONSONANTS)]
"""The 39 sounds of the CMU Pronouncing Dictionary (stress left out), silence, and any other noise."""

SOUND_ID = {sound: i for i, sound in enumerate(SOUNDS)}

PDFS = 2 * len(SOUNDS)
"""Outputs of the network: for sound i, 2i scores its first frame of 30 ms and 2i + 1 every further one."""

POSITIONS = {"B": "begin", "I": "internal", "E": "end", "S": "singleton"}
"""Where in a word a sound stands, in the words of the decoder's word_boundary.int."""

PHONES = [SILENCE, NOISE, *(f"{sound}_{p}" for sound in SOUNDS[2:] for p in POSITIONS)]
"""Sounds told apart by position: the decoder finds word times by them. All positions share the sound's outputs."""

PHONE_ID = {phone: i for i, phone in enumerate(PHONES, 1)}
"""Ids in the decoder's files, from 1; 0 stands for no phone there."""


def in_word(sounds: list[str]) -> list[str]:
    """Name the phones of a word: ["AY"] gives ["AY_S"], ["T", "UW"] gives ["T_B", "UW_E"]."""
    if len(sounds) == 1:
        return [f"{sounds[0]}_S"]
    middle = [f"{sound}_I" for sound in sounds[1:-1]]
    return [f"{sounds[0]}_B", *middle, f"{sounds[-1]}_E"]


def sound_of(phone: str) -> str:
    """Give the sound of a phone: "AY_S" gives "AY"."""
    return phone.partition("_")[0]


def first_pdf(phone: str) -> int:
    """Give the output that scores the first frame of a phone."""
    return 2 * SOUND_ID[sound_of(phone)]


def word_boundary() -> str:
    """Give the text of the decoder's graph/phones/word_boundary.int."""
    kinds = (POSITIONS.get(phone.partition("_")[2], "nonword") for phone in PHONES)
    return "".join(f"{i} {kind}\n" for i, kind in enumerate(kinds, 1))
