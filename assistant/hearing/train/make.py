"""From packs and texts to a trained network.

    python -m assistant.hearing.train.make start FOLDER STATE NET     voices, labels, frame criterion
    python -m assistant.hearing.train.make refine STATE NET NEW       new labels, sentence criterion

FOLDER holds packs/*.ogg with *.jsonl, noise/*.ogg, texts.json and lexicon.json (see `gather`).
"""

from __future__ import annotations

import argparse
import json
import time
from collections import Counter
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from multiprocessing import Pool
from pathlib import Path

import numpy as np
import soundfile
import torch
from torch import Tensor

from assistant.hearing.train.align import Phones, align
from assistant.hearing.train.learn import Piece, Speech, cut, learn
from assistant.hearing.train.lexicon import Lexicon
from assistant.hearing.train.mmi import sound_model
from assistant.hearing.train.network import Network, load, save
from assistant.hearing.train.packs import Audio, Row, read_pack
from assistant.hearing.train.voices import espeak, flite, speak

SHARES = {"words": 0.24, "people": 0.12, "libri": 0.30, "espeak": 0.20, "flite": 0.14}
"""How much of what the network hears comes from where."""

WORST = 0.02
"""The share of each source that fits its transcript least, left out."""


@dataclass
class Utterances:
    """One long signal and what is said where in it."""

    signal: Tensor
    start: list[int]
    length: list[int]
    words: list[list[str]]
    source: list[str]
    phones: list[Phones]


def read_people(folder: Path, workers: int) -> list[tuple[Audio, Row, str]]:
    """Read all packs."""
    stems = sorted(p.with_suffix("") for p in folder.glob("*.jsonl"))
    with Pool(workers) as pool:
        packs = pool.map(_read, stems, 1)
    return [
        (audio, row, stem.name.partition("-")[0].rstrip("0123456789"))
        for stem, pack in zip(stems, packs, strict=True)
        for audio, row in pack
    ]


def _read(stem: Path) -> list[tuple[Audio, Row]]:
    return list(read_pack(stem))


def collect(folder: Path, workers: int, seed: int, part: float = 1.0) -> Utterances:
    """Read the people and let the synthesizers speak their texts."""
    texts = json.loads((folder / "texts.json").read_text())
    found: list[tuple[Audio, list[str], str, Phones]] = []
    people = read_people(folder / "packs", workers)
    for audio, row, kind in people[: max(8, int(len(people) * part))]:
        found.append((audio, row.words, kind, []))
    for name, maker in (("flite", flite), ("espeak", espeak)):
        chosen = texts[name][: max(8, int(len(texts[name]) * part))]
        found += [(a, w, name, p) for a, w, _, p in speak(maker, chosen, seed, workers)]
        print(name, len(found), flush=True)
    lengths = [len(f[0]) for f in found]
    starts = np.concatenate([[0], np.cumsum(lengths)[:-1]]).tolist()
    signal = torch.from_numpy(np.concatenate([f[0] for f in found]))
    kinds = [f[2] for f in found]
    seconds: Counter[str] = Counter()
    for kind, length in zip(kinds, lengths, strict=True):
        seconds[kind] += length
    print({k: round(v / 16000 / 3600, 2) for k, v in seconds.items()}, "hours", flush=True)
    return Utterances(signal, starts, lengths, [f[1] for f in found], kinds, [f[3] for f in found])


def relabel(net: Network, speech: Utterances, table: Lexicon) -> Utterances:
    """Align every utterance anew; those that cannot be aligned keep no sounds."""
    order = np.argsort(speech.length)
    phones: list[Phones] = [[] for _ in speech.length]
    scores = np.full(len(order), -np.inf)
    budget = 16_000 * 400
    at = 0
    while at < len(order):
        size = max(1, min(192, budget // max(1, speech.length[order[min(at + 64, len(order) - 1)]])))
        some = order[at : at + size]
        at += size
        audio = [speech.signal[speech.start[i] : speech.start[i] + speech.length[i]].float() / 32768 for i in some]
        for i, got in zip(some, align(net, audio, [speech.words[i] for i in some], table), strict=True):
            if got:
                phones[i], scores[i] = got
    kinds = np.array(speech.source)
    for kind in set(speech.source):
        inside = (kinds == kind) & np.isfinite(scores)
        floor = np.quantile(scores[inside], WORST)
        print(kind, int(inside.sum()), "aligned, mean score", round(float(scores[inside].mean()), 3), flush=True)
        for i in np.nonzero((kinds == kind) & (scores < floor))[0]:
            phones[i] = []
    return Utterances(speech.signal, speech.start, speech.length, speech.words, speech.source, phones)


def training_set(speech: Utterances, noise: Tensor, seed: int, only: str | None = None) -> Speech:
    """Cut into pieces and weigh by source."""
    pieces: list[Piece] = []
    kinds: list[str] = []
    for start, length, kind, phones in zip(speech.start, speech.length, speech.source, speech.phones, strict=True):
        if phones and (only is None or kind == only):
            new = list(cut(start, length, phones))
            pieces += new
            kinds += [kind] * len(new)
    count = Counter(kinds)
    print(dict(count), "pieces", flush=True)
    return Speech(speech.signal, pieces, [SHARES[k] / count[k] for k in kinds], noise, seed)


def read_noise(folder: Path, device: torch.device) -> Tensor:
    """Read all recorded noise as one signal, each recording at like loudness."""
    parts = []
    for path in sorted(folder.glob("*.ogg")):
        audio = soundfile.read(path, dtype="float32")[0]
        parts.append(audio / (np.sqrt((audio**2).mean()) + 1e-6) * 0.1)
    return torch.from_numpy(np.concatenate(parts)).to(device)


def start(folder: Path, state: Path, out: Path, options: argparse.Namespace) -> None:
    """First network on flite's own labels; it labels everything; frame criterion, labels again, frame criterion."""
    device = torch.device(options.device)
    table: Lexicon = json.loads((folder / "lexicon.json").read_text())
    speech = collect(folder, options.workers, options.seed, options.part)
    speech.signal = speech.signal.to(device)
    noise = read_noise(folder / "noise", device)
    print("collected", round(time.time() - options.began), "s", flush=True)
    net = Network().to(device)
    learn(net, training_set(speech, noise, 1, "flite"), options.steps, 3e-3, options.size, seconds=options.boot)
    speech = relabel(net, speech, table)
    net = Network().to(device)
    learn(net, training_set(speech, noise, 2), options.steps, 4e-3, options.size, seconds=options.seconds * 0.3)
    save(net, out)
    speech = relabel(net, speech, table)
    learn(net, training_set(speech, noise, 3), options.steps, 3e-3, options.size, seconds=options.seconds * 0.7)
    save(net.cpu(), out)
    speech.signal = speech.signal.cpu()
    torch.save({"speech": vars(speech), "noise": noise.cpu(), "table": table}, state)


def refine(state: Path, before: Path, out: Path, options: argparse.Namespace) -> None:
    """Label with the network so far and go on with the sentence criterion."""
    device = torch.device(options.device)
    if state.is_dir():
        speech, noise = collect(state, options.workers, 7, options.part), read_noise(state / "noise", device)
        table: Lexicon = json.loads((state / "lexicon.json").read_text())
    else:
        kept = torch.load(state, weights_only=False)
        speech, noise, table = Utterances(**kept["speech"]), kept["noise"].to(device), kept["table"]
    speech.signal = speech.signal.to(device)
    net = load(before).to(device)
    speech = relabel(net, speech, table)
    follow = sound_model([[_id(s) for s, _ in p] for p in speech.phones if p], device)
    with torch.no_grad():
        net.out.bias -= net.priors.clamp_min(1e-4).log()
        net.out.weight *= 0.4
        net.out.bias *= 0.4
    learn(
        net,
        training_set(speech, noise, options.seed),
        options.steps,
        options.rate,
        options.size,
        follow,
        options.seconds,
    )
    net.priors.fill_(1 / len(net.priors))
    save(net.cpu(), out)


def _id(sound: str) -> int:
    from assistant.hearing.train.sounds import SOUND_ID

    return SOUND_ID[sound]


def main(arguments: Sequence[str] | None = None) -> None:
    """Read the command line."""
    ask = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    ask.add_argument("stage", choices=["start", "refine"])
    ask.add_argument("paths", nargs=3, type=Path)
    ask.add_argument("--seconds", type=float, default=1e6, help="time for training, where that ends before the steps")
    ask.add_argument("--boot", type=float, default=1e6, help="time for the first network")
    ask.add_argument("--steps", type=int, default=6000)
    ask.add_argument("--size", type=int, default=160)
    ask.add_argument("--rate", type=float, default=5e-4)
    ask.add_argument("--seed", type=int, default=7)
    ask.add_argument("--workers", type=int, default=16)
    ask.add_argument("--part", type=float, default=1.0, help="share of the data, for a rehearsal")
    ask.add_argument("--device", default="cuda" if torch.cuda.is_available() else "cpu")
    options = ask.parse_args(arguments)
    options.began = time.time()
    torch.manual_seed(options.seed)
    torch.backends.cuda.matmul.allow_tf32 = True
    torch.backends.cudnn.allow_tf32 = True
    stage: Callable[..., None] = start if options.stage == "start" else refine
    stage(*options.paths, options)


if __name__ == "__main__":
    main()
