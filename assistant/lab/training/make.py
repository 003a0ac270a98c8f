"""From packs and texts to a trained network: python -m assistant.lab.training.make DATA NET

DATA holds packs/*.ogg with *.jsonl, noise/*.ogg, texts.json and lexicon.json (see `gather`, `beforehand`). Training
goes frame by frame first, then by whole utterances. Labels come from a network that was trained before (--labels) or
from one that learns from flite, which tells where its sounds are. Networks are what this program stored (*.pt) or
what a model folder holds (am/final.mdl). On several GPUs: torchrun --nproc_per_node 2 -m assistant.lab.training.make
"""

from __future__ import annotations

import argparse
import json
import os
import time
from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass
from multiprocessing import Pool
from pathlib import Path

import numpy as np
import soundfile
import torch
import torch.distributed as dist
from torch import Tensor

from assistant.lab.training.again import deepened, read_shipped, settle
from assistant.lab.training.align import Phones, align
from assistant.lab.training.learn import Piece, Speech, cut, learn
from assistant.lab.training.lexicon import Lexicon
from assistant.lab.training.mmi import sound_model
from assistant.lab.training.network import Network, load, save
from assistant.lab.training.packs import Audio, Row, read_pack
from assistant.lab.training.sounds import SOUND_ID
from assistant.lab.training.splice import carried, spliced
from assistant.lab.training.voices import espeak, speak

SHARES = {
    "words": 0.14,
    "spliced": 0.09,
    "carried": 0.2,
    "people": 0.11,
    "libri": 0.12,
    "espeak": 0.08,
    "flite": 0.06,
    "festival": 0.02,
    "piper": 0.02,
    "carrier": 0.01,
    "kokoro": 0.15,
}
"""How much of what the network hears comes from where. People's words carried by sentences are most like people on a
site, and misheard two to three times as often as what synthesizers say."""

RUNS = 6000
"""Runs of people's words that are spliced."""

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
    """Read the packs, let espeak-ng speak its texts, and put people's words together."""
    texts = json.loads((folder / "texts.json").read_text())
    packed = read_people(folder / "packs", workers)
    found = [(audio, row.words, kind, row.phones) for audio, row, kind in packed[:: max(1, round(1 / part))]]
    print("packs", len(found), flush=True)
    people, carrier = ([(a, row) for a, row, kind in packed if kind == wanted] for wanted in ("words", "carrier"))
    made = {
        "espeak": speak(espeak, _some(texts["espeak"], part), seed, workers),
        "spliced": spliced(people, int(RUNS * part), seed),
        "carried": carried(_some(texts["carried"], part), people, carrier, seed),
    }
    for kind, spoken in made.items():
        found += [(audio, words, kind, phones) for audio, words, _, phones in spoken]
    lengths = [len(f[0]) for f in found]
    starts = np.concatenate([[0], np.cumsum(lengths)[:-1]]).tolist()
    signal = torch.from_numpy(np.concatenate([f[0] for f in found]))
    kinds = [f[2] for f in found]
    seconds: Counter[str] = Counter()
    for kind, length in zip(kinds, lengths, strict=True):
        seconds[kind] += length
    print({k: round(v / 16000 / 3600, 2) for k, v in seconds.items()}, "hours", flush=True)
    return Utterances(signal, starts, lengths, [f[1] for f in found], kinds, [f[3] for f in found])


def _some(texts: list[str], part: float) -> list[str]:
    return texts[: int(len(texts) * part)]


def relabel(net: Network, speech: Utterances, table: Lexicon) -> Utterances:
    """Align every utterance anew; those that cannot be aligned keep no sounds."""
    order = np.argsort(speech.length)
    phones: list[Phones] = [[] for _ in speech.length]
    scores = np.full(len(order), -np.inf)
    budget = 16_000 * (2400 if speech.signal.is_cuda else 100)
    at = 0
    while at < len(order):
        size = max(1, min(1024, budget // max(1, speech.length[order[min(at + 256, len(order) - 1)]])))
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


def what_follows(speech: Utterances) -> Tensor:
    """Which sound follows which two in what the network hears."""
    count = Counter(speech.source)
    whole = len(speech.source)
    return sound_model(
        ([SOUND_ID[sound] for sound, _ in phones], whole * SHARES[kind] / count[kind])
        for phones, kind in zip(speech.phones, speech.source, strict=True)
        if phones
    )


def read_noise(folder: Path, device: torch.device) -> Tensor:
    """Read all recorded noise as one signal, each recording at like loudness."""
    parts = []
    for path in sorted(folder.glob("*.ogg")):
        audio = soundfile.read(path, dtype="float32")[0]
        parts.append(audio / (np.sqrt((audio**2).mean()) + 1e-6) * 0.1)
    return torch.from_numpy(np.concatenate(parts)).to(device)


def opened(path: Path, speech: Speech | None = None, size: int = 192) -> Network:
    """Read a network, and make one from a model folder fit for training."""
    if path.suffix != ".mdl":
        return load(path)
    net = read_shipped(path)
    if speech is not None:
        net.to(speech.signal.device)
        settle(net, [speech.batch(size, net.context).frames for _ in range(20)])
    return net


def labelled(options: argparse.Namespace, device: torch.device, noise: Tensor) -> Utterances:
    """All speech with the sounds in it; taken from --kept if it is there, and stored there otherwise."""
    if options.kept and options.kept.exists():
        speech = Utterances(**torch.load(options.kept, weights_only=True))
        speech.signal = speech.signal.to(device)
        return speech
    table: Lexicon = json.loads((options.data / "lexicon.json").read_text())
    speech = collect(options.data, options.workers, options.seed, options.part)
    speech.signal = speech.signal.to(device)
    print("collected", round(time.time() - options.began), "s", flush=True)
    if options.labels:
        teacher = opened(options.labels).to(device)
    else:
        teacher = Network().to(device)
        learn(teacher, training_set(speech, noise, 1, "flite"), options.steps, 3e-3, options.size, seconds=options.boot)
    speech = relabel(teacher, speech, table)
    if options.kept and options.rank == 0:
        torch.save({**vars(speech), "signal": speech.signal.cpu()}, options.kept)
    return speech


def make(options: argparse.Namespace) -> None:
    """Collect, label, train by frames, label anew, train by utterances; what there is is stored after each."""
    device = torch.device(options.device)
    noise = read_noise(options.data / "noise", device)
    speech = labelled(options, device, noise)
    print("labelled", round(time.time() - options.began), "s", flush=True)
    seed = options.seed + 100 * options.rank
    data = training_set(speech, noise, seed)
    net = (opened(options.after, data, options.size) if options.after else Network()).to(device)
    if options.deepen:
        net = deepened(net, options.deepen)
    if options.frames:
        learn(net, data, options.steps, options.rate, options.size, seconds=options.frames)
        store(net, options.net.with_suffix(".frames.pt"), options.rank)
        speech = relabel(net, speech, json.loads((options.data / "lexicon.json").read_text()))
        data = training_set(speech, noise, seed + 1)
    if options.sentences:
        follow = what_follows(speech).to(device)
        learn(net, data, options.steps, options.fine, options.size, follow, options.sentences, tuple(options.stretch))
    store(net, options.net, options.rank)
    print("done", round(time.time() - options.began), "s", flush=True)


def store(net: Network, path: Path, rank: int) -> None:
    """Store what all processes have in common, once."""
    if rank == 0:
        save(net, path)


def main(arguments: Sequence[str] | None = None) -> None:
    """Read the command line."""
    ask = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    ask.add_argument("data", type=Path)
    ask.add_argument("net", type=Path)
    ask.add_argument("--labels", type=Path, help="a network that labels the speech at first")
    ask.add_argument("--after", type=Path, help="a network to go on from")
    ask.add_argument("--deepen", type=int, nargs="*", help="reach of further layers, which change nothing at first")
    ask.add_argument("--kept", type=Path, help="a file for the labelled speech, so that a second run starts at once")
    ask.add_argument("--boot", type=float, default=1e6, help="seconds for a network that labels")
    ask.add_argument("--frames", type=float, default=1e6, help="seconds of training by frames")
    ask.add_argument("--sentences", type=float, default=1e6, help="seconds of training by utterances")
    ask.add_argument("--steps", type=int, default=6000, help="steps of each training, where they end before the time")
    ask.add_argument("--size", type=int, default=192)
    ask.add_argument("--rate", type=float, default=3e-3)
    ask.add_argument("--fine", type=float, default=4e-4, help="rate of the training by utterances")
    ask.add_argument("--stretch", type=float, nargs=2, default=(0.0, 1.0), help="part of its schedule, of 0 to 1")
    ask.add_argument("--seed", type=int, default=2)
    ask.add_argument("--workers", type=int, default=16)
    ask.add_argument("--part", type=float, default=1.0, help="share of the data, for a rehearsal")
    ask.add_argument("--device", default="cuda" if torch.cuda.is_available() else "cpu")
    options = ask.parse_args(arguments)
    options.began = time.time()
    options.rank = int(os.environ.get("LOCAL_RANK", 0))
    if "WORLD_SIZE" in os.environ:
        options.device = f"cuda:{options.rank}" if options.device == "cuda" else options.device
        dist.init_process_group("nccl" if options.device.startswith("cuda") else "gloo")
        if options.device.startswith("cuda"):
            torch.cuda.set_device(options.rank)
    torch.manual_seed(options.seed + options.rank)
    torch.backends.cuda.matmul.allow_tf32 = True
    torch.backends.cudnn.allow_tf32 = True
    make(options)


if __name__ == "__main__":
    main()
