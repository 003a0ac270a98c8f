"""Voices that speak beforehand, as packs.

    python -m assistant.lab.training.beforehand DATA piper MODEL.onnx MODEL.onnx.json
    python -m assistant.lab.training.beforehand DATA kokoro MODEL.onnx vocab.json VOICES
    python -m assistant.lab.training.beforehand DATA carrier MODEL.onnx vocab.json VOICES
    python -m assistant.lab.training.beforehand DATA festival        or flite

They are slow or need a program, so they speak beforehand, and go where the people's packs are. Several may share
the work: `--share 1 4` speaks every fourth text, from the second.
"""

from __future__ import annotations

import argparse
import json
import random
import re
from collections.abc import Callable, Iterable, Iterator
from itertools import islice
from pathlib import Path
from typing import Any

import numpy as np

from assistant.lab.training.packs import PackWriter, as_int16
from assistant.lab.training.voices import Spoken, festival, flite, phonemes

PACK = 100
"""Utterances in a pack."""


def session(path: Path) -> Any:
    """Open a network on one processor."""
    import onnxruntime

    options = onnxruntime.SessionOptions()
    options.intra_op_num_threads = 1
    return onnxruntime.InferenceSession(str(path), options, providers=["CPUExecutionProvider"])


def piper(texts: Iterable[str], model: Path, settings: Path, seed: int) -> Iterator[Spoken]:
    """Speak with a Piper voice, at random speed and liveliness."""
    network, known = session(model), json.loads(settings.read_text())
    numbers, rate = known["phoneme_id_map"], known["audio"]["sample_rate"]
    dice = random.Random(seed)
    for text in texts:
        ids = list(numbers["^"]) + list(numbers["_"])
        for sound in phonemes(text):
            ids += [*numbers.get(sound, []), *numbers["_"]] if sound in numbers else []
        ids += numbers["$"]
        scales = [dice.uniform(0.5, 0.9), dice.uniform(0.8, 1.3), dice.uniform(0.6, 1.0)]
        given = {
            "input": np.array([ids], np.int64),
            "input_lengths": np.array([len(ids)], np.int64),
            "scales": np.array(scales, np.float32),
        }
        audio = network.run(None, given)[0].ravel()
        yield as_int16(audio, rate), text.split(), f"piper:{model.stem}", []


KEPT_FOR_JUDGING = re.compile("^b|^a._(nova|kore|eric|puck)$")
"""Kokoro's voices that no model of ours may hear in training: the British, and four of the American."""

ENGLISH = re.compile("^a")
"""Kokoro's voices whose mother tongue is English; the others speak it with an accent."""

KOKORO_ALPHABET = (
    ("\u0361", ""), ("eɪ", "A"), ("aɪ", "I"), ("aʊ", "W"), ("ɔɪ", "Y"), ("oʊ", "O"), ("əʊ", "Q"), ("dʒ", "ʤ"),
    ("tʃ", "ʧ"), ("ɚ", "əɹ"), ("ɐ", "ə"), ("əl", "ᵊl"), ("r", "ɹ"),
)  # fmt: skip
"""How Kokoro writes what espeak-ng writes otherwise; from memory. Both ways are spoken, for variety."""

PLACES = ("en-us", "en-us", "en-us", "en-gb", "en-gb", "en-gb-x-rp", "en-gb-scotland", "en-029")
"""Whose pronunciation is spoken."""


def kokoro(texts: Iterable[str], model: Path, vocabulary: Path, voices: Path, seed: int) -> Iterator[Spoken]:
    """Speak with Kokoro: its voices (VOICES/*.bin), mixtures of two or three, all a little shaken."""
    network, numbers = session(model), json.loads(vocabulary.read_text())["vocab"]
    names = sorted(p.stem for p in voices.glob("*.bin") if not KEPT_FOR_JUDGING.search(p.stem))
    styles = np.stack([np.fromfile(voices / f"{name}.bin", np.float32).reshape(-1, 256) for name in names])
    weights = np.array([3.0 if ENGLISH.search(name) else 1.0 for name in names])
    dice = np.random.default_rng(seed)
    for text in texts:
        place = PLACES[dice.integers(len(PLACES))]
        sounds = phonemes(text, place)
        for ours, theirs in KOKORO_ALPHABET if dice.random() < 0.7 else KOKORO_ALPHABET[:1]:
            sounds = sounds.replace(ours, theirs)
        ids = [numbers[c] for c in sounds if c in numbers][:480]
        there = styles[:, len(ids)]
        some = dice.choice(len(names), dice.integers(1, 4), replace=False, p=weights / weights.sum())
        style = dice.dirichlet(np.ones(len(some))) @ there[some] + there.std(0) * dice.normal(0, 0.15, 256)
        given = {
            "tokens": np.array([[0, *ids, 0]], np.int64),
            "style": style[None].astype(np.float32),
            "speed": np.array([dice.uniform(0.75, 1.3)], np.float32),
        }
        audio = network.run(None, given)[0].ravel()
        yield as_int16(audio, 24_000), text.split(), f"kokoro:{place}:{'+'.join(names[i] for i in some)}", []


def _festival(texts: list[str], seed: int) -> Iterator[Spoken]:
    for at in range(0, len(texts), PACK):
        yield from festival(texts[at : at + PACK], seed + at)


def _flite(texts: list[str], seed: int) -> Iterator[Spoken]:
    return (flite((text, seed * 1_000_000 + i)) for i, text in enumerate(texts))


def main(arguments: list[str] | None = None) -> None:
    """Speak the texts of one synthesizer into packs that begin with its name."""
    ask = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    ask.add_argument("data", type=Path)
    ask.add_argument("name", choices=["piper", "kokoro", "carrier", "festival", "flite"])
    ask.add_argument("models", type=Path, nargs="*")
    ask.add_argument("--share", type=int, nargs=2, default=(0, 1), help="which of how many")
    options = ask.parse_args(arguments)
    part, parts = options.share
    texts = json.loads((options.data / "texts.json").read_text()).get(options.name, [])[part::parts]
    makers: dict[str, Callable[..., Iterator[Spoken]]] = {
        "piper": piper,
        "kokoro": kokoro,
        "carrier": kokoro,
        "festival": _festival,
        "flite": _flite,
    }
    spoken = makers[options.name](texts, *options.models, seed=11 + part)
    for pack, some in enumerate(batched(spoken, PACK)):
        writer = PackWriter(options.data / "packs" / f"{options.name}-{part}-{pack:03}", 16_000)
        for audio, words, voice, phones in some:
            if len(audio) > 3000:
                writer.add(audio, words, voice, options.name, phones)
        writer.close()
        print(options.name, part, (pack + 1) * PACK, flush=True)


def batched(every: Iterator[Spoken], size: int) -> Iterator[list[Spoken]]:
    """Give some at a time."""
    while some := list(islice(every, size)):
        yield some


if __name__ == "__main__":
    main()
