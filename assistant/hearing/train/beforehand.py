"""Voices that speak beforehand, as packs.

    python -m assistant.hearing.train.beforehand DATA piper MODEL.onnx MODEL.onnx.json
    python -m assistant.hearing.train.beforehand DATA kokoro MODEL.onnx vocab.json styles.npz
    python -m assistant.hearing.train.beforehand DATA festival        or flite

They are slow or need a program, so they speak beforehand, and go where the people's packs are.
"""

from __future__ import annotations

import json
import random
import sys
from collections.abc import Callable, Iterable, Iterator
from pathlib import Path
from typing import Any

import numpy as np

from assistant.hearing.train.packs import PackWriter, as_int16
from assistant.hearing.train.voices import Spoken, espeak_library, festival, flite

PACK = 150
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
        for sound in espeak_library().phonemes(text):
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


def kokoro(texts: Iterable[str], model: Path, vocabulary: Path, styles: Path, seed: int) -> Iterator[Spoken]:
    """Speak with Kokoro in voices that nobody has: mixed and shaken styles of the given ones."""
    network, numbers = session(model), json.loads(vocabulary.read_text())["vocab"]
    with np.load(styles) as kept:
        every = np.stack([kept[name] for name in kept.files])[:, :, 0]
    dice = np.random.default_rng(seed)
    for text in texts:
        sounds = espeak_library().phonemes(text).replace("\u0361", "").replace("ɚ", "əɹ")
        ids = [numbers[c] for c in sounds if c in numbers][:480]
        there = every[:, len(ids)]
        shares = dice.dirichlet(np.full(len(there), 0.7)) + dice.normal(0, 0.25, len(there))
        spread = there.std(0)
        style = there.mean(0) + (shares / max(0.3, shares.sum())) @ (there - there.mean(0))
        style = style + spread * dice.normal(0, 0.35, len(style))
        given = {
            "tokens": np.array([[0, *ids, 0]], np.int64),
            "style": style[None].astype(np.float32),
            "speed": np.array([dice.uniform(0.8, 1.25)], np.float32),
        }
        audio = network.run(None, given)[0].ravel()
        name = "+".join(f"{s:.1f}" for s in shares)
        yield as_int16(audio, 24_000), text.split(), f"kokoro:{name}", []


def _festival(texts: list[str], seed: int) -> Iterator[Spoken]:
    for at in range(0, len(texts), PACK):
        yield from festival(texts[at : at + PACK], seed + at)


def _flite(texts: list[str], seed: int) -> Iterator[Spoken]:
    return (flite((text, seed * 1_000_000 + i)) for i, text in enumerate(texts))


def main(data: Path, name: str, *models: Path) -> None:
    """Speak the texts of one synthesizer into packs that end in its name."""
    texts = json.loads((data / "texts.json").read_text())[name]
    makers: dict[str, Callable[..., Iterator[Spoken]]] = {
        "piper": piper,
        "kokoro": kokoro,
        "festival": _festival,
        "flite": _flite,
    }
    writer, count, packs = None, 0, 0
    for audio, words, voice, phones in makers[name](texts, *models, seed=11):
        if writer is None:
            writer = PackWriter(data / "packs" / f"{name}-{packs:03}", 16_000)
        if len(audio) > 3000:
            writer.add(audio, words, voice, name, phones)
            count += 1
        if count % PACK == PACK - 1:
            writer.close()
            writer, packs = None, packs + 1
            print(name, count, flush=True)
    if writer is not None:
        writer.close()


if __name__ == "__main__":
    main(Path(sys.argv[1]), sys.argv[2], *[Path(p) for p in sys.argv[3:]])
