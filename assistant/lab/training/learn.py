"""Training on disturbed speech: first frame by frame, then by whole utterances (lattice-free MMI over sounds)."""

from __future__ import annotations

import time
from collections.abc import Iterator
from dataclasses import dataclass
from typing import NamedTuple

import numpy as np
import torch
import torch.distributed as dist
from torch import Tensor

from assistant.lab.training.align import STEP, Phones
from assistant.lab.training.disturb import Disturber
from assistant.lab.training.fbank import fbank
from assistant.lab.training.mmi import SCALE, mmi_loss
from assistant.lab.training.network import STRIDE, Network
from assistant.lab.training.sounds import PDFS, SILENCE, SOUND_ID

RATE = 16_000
LONGEST = 4.5
"""Seconds of the longest piece; longer utterances are cut, in a pause if there is one."""

TAIL = 0.6
"""Seconds, at most, of noise alone after a piece: as much as is waited for after speech."""

BUCKETS = ((1.5, 3.0), (3.0, 1.5), (LONGEST, 1.0))
"""Longest piece in seconds, and how much larger than the given size a batch of such pieces is."""


class Piece(NamedTuple):
    """A stretch of the long signal and the sounds in it; ends are in seconds from its first sample."""

    start: int
    length: int
    sounds: list[int]
    ends: list[float]


def cut(start: int, length: int, phones: Phones) -> Iterator[Piece]:
    """Cut an utterance into pieces of at most `LONGEST` seconds, at the ends of sounds."""
    begin, kept = 0.0, 0
    seconds = length / RATE
    while seconds - begin > LONGEST:
        inside = [i for i in range(kept, len(phones) - 1) if begin + 1.0 < phones[i][1] <= begin + LONGEST]
        if not inside:
            return
        pauses = [i for i in inside if phones[i][0] == SILENCE]
        last = (pauses or inside)[-1]
        yield _piece(start, begin, phones[last][1], phones[kept : last + 1])
        begin, kept = phones[last][1], last + 1
    if kept < len(phones) and seconds - begin > 0.2:
        yield _piece(start, begin, seconds, phones[kept:])


def _piece(start: int, begin: float, end: float, phones: Phones) -> Piece:
    ids = [SOUND_ID[sound] for sound, _ in phones]
    return Piece(start + int(begin * RATE), int((end - begin) * RATE), ids, [e - begin for _, e in phones])


@dataclass
class Batch:
    """Frames padded for the network, an output number for each output, the sounds said, -1 after the last, and
    the place of each label among them.
    """

    frames: Tensor
    labels: Tensor
    sounds: Tensor
    at: Tensor


class Speech:
    """One long signal on the device, pieces of it, and how often each is drawn."""

    def __init__(self, signal: Tensor, pieces: list[Piece], weights: list[float], noise: Tensor, seed: int) -> None:
        device = signal.device
        self.signal = signal
        self.dice = np.random.default_rng(seed)
        generator = torch.Generator(device).manual_seed(seed)
        self.disturb = Disturber(noise, signal, generator)
        self.start = torch.tensor([p.start for p in pieces], device=device)
        self.length = torch.tensor([p.length for p in pieces], device=device)
        most = max(len(p.sounds) for p in pieces)
        sounds = np.full((len(pieces), most), -1, np.int64)
        ends = np.full((len(pieces), most), 1e9, np.float32)
        for i, p in enumerate(pieces):
            sounds[i, : len(p.sounds)], ends[i, : len(p.ends)] = p.sounds, p.ends
        self.sounds, self.ends = torch.from_numpy(sounds).to(device), torch.from_numpy(ends).to(device)
        seconds, share = np.array([p.length for p in pieces]) / RATE, np.array(weights)
        low = 0.0
        self.buckets = []
        for high, more in BUCKETS:
            inside = np.nonzero((seconds > low) & (seconds <= high + 0.01))[0]
            if len(inside):
                whole, longest = share[inside].sum(), max(len(pieces[i].sounds) for i in inside)
                self.buckets.append((high, more, inside, share[inside] / whole, longest, whole / more))
            low = high + 0.01
        self.chances = np.array([b[-1] for b in self.buckets]) / sum(b[-1] for b in self.buckets)

    def batch(self, size: int, context: int) -> Batch:
        """Draw pieces of like length and disturb them."""
        high, more, inside, share, longest, _ = self.buckets[self.dice.choice(len(self.buckets), p=self.chances)]
        drawn = self.dice.choice(inside, int(size * more), p=share)
        pick = torch.from_numpy(drawn).to(self.signal.device)
        length, most = self.length[pick], int(high * RATE) + 400
        where = self.start[pick][:, None] + torch.arange(most, device=pick.device)
        audio = self.signal[where.clamp_max(len(self.signal) - 1)].float() / 32768
        audio = audio * (torch.arange(most, device=pick.device) < length[:, None])
        out_size = int((high / 0.95 + 0.45 + TAIL) * RATE)
        audio, front, stretch = self.disturb(audio, length.float(), out_size)
        warp = self.disturb.uniform(0.87, 1.14, len(pick))
        frames = fbank(audio, torch.where(self.disturb.uniform(0, 1, len(pick)) < 0.65, warp, 1.0))
        frames = frames[:, : frames.shape[1] // STRIDE * STRIDE]
        outputs = frames.shape[1] // STRIDE
        ends = self.ends[pick][:, :longest] * stretch[:, None] + front[:, None]
        times = torch.arange(outputs, device=pick.device) * STEP + 0.0125
        at = torch.searchsorted(ends, times.expand(len(pick), -1).contiguous())
        quiet = SOUND_ID[SILENCE]
        sounds = self.sounds[pick][:, :longest]
        padded = torch.cat([sounds, torch.full_like(sounds[:, :1], -1)], 1)
        now = padded.gather(1, at.clamp_max(sounds.shape[1]))
        now = torch.where((now < 0) | (times < front[:, None]), quiet, now)
        at = torch.where(times < front[:, None], -1, at)
        labels = 2 * now
        still = (at[:, 1:] == at[:, :-1]) | ((now[:, 1:] == quiet) & (now[:, :-1] == quiet))
        labels[:, 1:] += still.long()
        frames = self._masked(frames)
        edge = frames[:, :1].expand(-1, context, -1), frames[:, -1:].expand(-1, context, -1)
        return Batch(torch.cat([edge[0], frames, edge[1]], 1), labels, sounds, at)

    def _masked(self, frames: Tensor) -> Tensor:
        """Blank a few mel bands and moments (SpecAugment)."""
        b, t, m = frames.shape
        mean = frames.mean((1, 2), keepdim=True)
        for size, axis, most in ((m, 2, 8), (t, 1, 16), (t, 1, 16)):
            width = self.disturb.uniform(0, most, b, 1)
            begin = self.disturb.uniform(0, 1, b, 1) * (size - most)
            index = torch.arange(size, device=frames.device)
            blank = (index >= begin) & (index < begin + width) & (self.disturb.uniform(0, 1, b, 1) < 0.6)
            frames = torch.where(blank.unsqueeze(3 - axis), mean, frames)
        return frames


FRAME_SHARE = 0.2
"""How much the frame criterion counts beside the sentence criterion, which it keeps from straying."""

MOST_SLOPE = 2.0
"""Length to which the slope of a step is cut."""

MOST_WORSE = 0.5
"""By how much the mean loss may rise. Of two runs that diverged it had risen by 0.2 and 6, and went on to hundreds."""


class DivergedError(RuntimeError):
    """A training that gets worse and worse; nothing of it is worth keeping."""


def learn(
    net: Network,
    speech: Speech,
    steps: int,
    rate: float,
    size: int,
    follow: Tensor | None = None,
    seconds: float = 1e9,
    stretch: tuple[float, float] = (0.0, 1.0),
) -> Network:
    """Train for `steps`, or until `seconds` have gone. With a model of sounds the criterion is MMI, else frames.

    The rate falls along half a cosine, of which this is a `stretch`: a long training can be cut into several. Where
    several processes train together, each on its own batches, they take the same steps along the mean slope.
    Raises `DivergedError` where it gets worse.
    """
    began = time.time()
    together = Together(net)
    net.train()
    optimiser = torch.optim.AdamW(net.parameters(), rate, weight_decay=1e-3)
    sums = torch.zeros(3, device=speech.signal.device)
    counts = torch.zeros(PDFS, device=speech.signal.device)
    prior = net.priors.clamp_min(1e-4).log()
    spent = 0.0
    every = max(1, min(200, steps // 10))
    done, first = 0.0, None
    for step in range(steps):
        if done >= 1:
            break
        for group in optimiser.param_groups:
            along = stretch[0] + (stretch[1] - stretch[0]) * done
            group["lr"] = rate * min(done / 0.06 + 0.01, 1.0) * (0.5 + 0.5 * np.cos(np.pi * along) + 0.003)
        now = time.time()
        batch = speech.batch(size, net.context)
        if step % every == 0 and speech.signal.is_cuda:
            torch.cuda.synchronize()
            spent = time.time() - now
        with torch.autocast("cuda", torch.bfloat16, enabled=speech.signal.is_cuda):
            scores = net(batch.frames)
        flat = scores.reshape(-1, PDFS)
        frame_loss = torch.nn.functional.nll_loss(flat, batch.labels.reshape(-1))
        loss = frame_loss
        if follow is not None:
            loss = mmi_loss(SCALE * (scores - prior), batch.sounds, batch.at, follow) + FRAME_SHARE * frame_loss
        optimiser.zero_grad()
        loss.backward()
        done = together.share(max((step + 1) / steps, (time.time() - began) / seconds))
        slope = torch.nn.utils.clip_grad_norm_(net.parameters(), MOST_SLOPE)
        if torch.isfinite(slope):
            optimiser.step()
        with torch.no_grad():
            right = (flat.argmax(1) == batch.labels.reshape(-1)).float().mean()
            sums += torch.stack([loss.detach(), frame_loss.detach(), right])
            counts += torch.bincount(batch.labels.reshape(-1), minlength=PDFS)
        if step % every == every - 1:
            loss_mean, frame_mean, right_mean = (sums / every).tolist()
            print(
                f"step {step + 1} loss {loss_mean:.4f} frames {frame_mean:.3f} right {right_mean:.3f} "
                f"batch {spent:.3f} of {(time.time() - now):.3f} s, {time.time() - began:.0f} s",
                flush=True,
            )
            first = loss_mean if first is None else first
            if not loss_mean <= first + MOST_WORSE:
                raise DivergedError(f"the loss rose from {first:.3f} to {loss_mean:.3f}: begin again at a lower rate")
            sums.zero_()
    if follow is None:
        net.priors.copy_(counts / counts.sum())
    together.settle()
    return net.eval()


class Together:
    """One network in several processes (`torchrun`), or in this one alone."""

    def __init__(self, net: Network) -> None:
        self._net = net
        self._count = dist.get_world_size() if dist.is_initialized() else 1
        if self._count > 1:
            for tensor in net.state_dict().values():
                dist.broadcast(tensor, 0)

    def share(self, done: float) -> float:
        """Put the mean of all processes in the place of each slope; return the mean of what they have done."""
        if self._count == 1:
            return done
        slopes = [p.grad for p in self._net.parameters() if p.grad is not None]
        flat = torch.cat([slope.flatten() for slope in slopes] + [slopes[0].new_tensor([done])])
        dist.all_reduce(flat)
        flat /= self._count
        for slope, mean in zip(slopes, flat[:-1].split([slope.numel() for slope in slopes]), strict=True):
            slope.copy_(mean.view_as(slope))
        return float(flat[-1])

    def settle(self) -> None:
        """Put the mean of all processes in the place of what each kept of its own batches (norms, priors)."""
        if self._count > 1:
            for tensor in self._net.buffers():
                if tensor.is_floating_point():
                    dist.all_reduce(tensor)
                    tensor /= self._count
