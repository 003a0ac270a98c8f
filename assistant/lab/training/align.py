"""Where each sound of a sentence stands: the best path of its pronunciations through the network's scores."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import torch
from torch import Tensor

from assistant.lab.training.fbank import fbank
from assistant.lab.training.lexicon import Lexicon
from assistant.lab.training.network import Network
from assistant.lab.training.sounds import SILENCE, SOUND_ID, SOUNDS

STEP = 0.03
"""Seconds between outputs of the network."""

LOW = -1e30

Phones = list[tuple[str, float]]
"""Sounds and their ends in seconds."""


@dataclass(frozen=True)
class SentenceGraph:
    """Nodes are sounds; `before[i]` lists the nodes that may come right before node i, -1 being the start."""

    sounds: list[int]
    before: list[list[int]]
    last: list[int]


def sentence_graph(words: list[str], table: Lexicon) -> SentenceGraph:
    """Chain the pronunciations of the words, with an optional pause before, between and after."""
    sounds: list[int] = []
    before: list[list[int]] = []

    def add(sound: str, came: list[int]) -> int:
        sounds.append(SOUND_ID[sound])
        before.append(came)
        return len(sounds) - 1

    entry = [-1]
    for word in words:
        entry = [*entry, add(SILENCE, entry)]
        ends = []
        for way in table[word]:
            here = entry
            for sound in way:
                here = [add(sound, here)]
            ends += here
        entry = ends
    return SentenceGraph(sounds, before, [*entry, add(SILENCE, entry)])


@torch.no_grad()
def align(
    net: Network, audio: list[Tensor], words: list[list[str]], table: Lexicon
) -> list[tuple[Phones, float] | None]:
    """Align a batch of float signals: sounds with ends, and the mean score a frame; None where it is too short."""
    device = net.priors.device
    graphs = [sentence_graph(w, table) for w in words]
    size = max(len(a) for a in audio)
    waves = torch.zeros(len(audio), size, device=device)
    for row, signal in zip(waves, audio, strict=True):
        row[: len(signal)] = signal
    waves = waves + 5e-4 * torch.randn(waves.shape, device=device)
    scores = net(net.pad(fbank(waves))) - net.priors.clamp_min(1e-4).log()
    b, steps, _ = scores.shape
    n = max(len(g.sounds) for g in graphs)
    k = max(len(x) for g in graphs for x in g.before)
    sounds = np.zeros((b, n), np.int64)
    preds = np.full((b, n, k), n)
    for i, g in enumerate(graphs):
        sounds[i, : len(g.sounds)] = g.sounds
        for j, came in enumerate(g.before):
            preds[i, j, : len(came)] = [n + 1 if x < 0 else x for x in came]
    ids, came = torch.from_numpy(sounds).to(device), torch.from_numpy(preds).to(device)
    enter = scores.gather(2, (2 * ids)[:, None].expand(-1, steps, -1))
    stay = scores.gather(2, (2 * ids + 1)[:, None].expand(-1, steps, -1))
    total = torch.full((b, n + 2), LOW, device=device)
    total[:, n + 1] = 0.0
    back = torch.zeros((steps, b, n), dtype=torch.int32, device=device)
    totals = torch.zeros((steps, b, n), device=device)
    flat = came.reshape(b, -1)
    for t in range(steps):
        best, which = total.gather(1, flat).view(b, n, k).max(2)
        entered, stayed = best + enter[:, t], total[:, :n] + stay[:, t]
        source = came.gather(2, which[:, :, None])[:, :, 0].int()
        back[t] = torch.where(entered >= stayed, source, -1)
        total = torch.full_like(total, LOW)
        total[:, :n] = torch.maximum(entered, stayed)
        totals[t] = total[:, :n]
    frames = [max(1, (1 + (len(a) - 400) // 160 + 2) // 3) for a in audio]
    back_np, totals_np = back.cpu().numpy(), totals.cpu().numpy()
    return [_trace(g, back_np[:, i], totals_np[:, i], frames[i], n) for i, g in enumerate(graphs)]


def _trace(g: SentenceGraph, back: np.ndarray, totals: np.ndarray, frames: int, n: int) -> tuple[Phones, float] | None:
    t = frames - 1
    node = max(g.last, key=lambda i: totals[t, i])
    if totals[t, node] < LOW / 2:
        return None
    score = float(totals[t, node]) / frames
    phones: Phones = []
    end = frames
    while t >= 0:
        came = int(back[t, node])
        if came >= 0:
            phones.append((SOUNDS[g.sounds[node]], round(end * STEP, 3)))
            end, node = t, came
            if came > n:
                break
        t -= 1
    return phones[::-1], score
