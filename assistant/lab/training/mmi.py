"""The sentence criterion: how much likelier is what was said than anything else that could have been said.

Maximum mutual information without lattices: the sounds said are a chain that may stray a little from the labels in
time, everything else is a trigram of sounds, and both are summed over all ways to stretch them (forward-backward), as
in Povey et al., "Purely sequence-trained neural networks for ASR based on lattice-free MMI", Interspeech 2016, which
was not at hand here.
"""

from __future__ import annotations

from collections.abc import Iterable
from typing import Any

import torch
from torch import Tensor

from assistant.lab.training.sounds import SILENCE, SOUND_ID, SOUNDS

LOW = -1e30
SCALE = 0.5
"""What the decoder multiplies scores with, and so does the criterion."""

STRAY = 5
"""Outputs by which a sound may begin earlier or later than its label says."""

QUIET_FIRST = 0.9
"""The chance that a piece begins with silence."""

BACKING = 20.0
"""Sightings that a shorter history counts for beside a longer one."""


def sound_model(chains: Iterable[tuple[list[int], float]]) -> Tensor:
    """Probability of each sound after each two: (before, now, next). Chains of sounds come with their weights."""
    n, quiet = len(SOUNDS), SOUND_ID[SILENCE]
    three = torch.zeros((n, n, n))
    for chain, weight in chains:
        told = [quiet, quiet]
        for sound in [*chain, quiet]:
            if not sound == told[-1] == quiet:
                told.append(sound)
        for a, b, c in zip(told, told[1:], told[2:], strict=False):
            three[a, b, c] += weight
    one = three.sum((0, 1)) + 1.0
    two = three.sum(0) + BACKING * one / one.sum()
    two = two / two.sum(1, keepdim=True)
    three = three + BACKING * two
    three[:, quiet, quiet] = 0.0
    return three / three.sum(2, keepdim=True)


def _anything(scores: Tensor, follow: Tensor) -> tuple[Tensor, Tensor]:
    """Log-sum of all chains of sounds (batch,), and how much each output is used (batch, time, outputs).

    A state is the last two sounds; the tables are laid out (now, batch, before).
    """
    b, steps, _ = scores.shape
    top = scores.amax(2, keepdim=True)
    likely = (scores.double() - top).clamp_min(-40.0).exp()
    enter = likely[:, :, 0::2].permute(1, 0, 2).contiguous()
    stay = likely[:, :, 1::2].permute(1, 2, 0).contiguous()[..., None]
    n = enter.shape[2]
    onward = follow.double().permute(1, 0, 2).contiguous()
    back = onward.transpose(1, 2).contiguous()
    quiet = SOUND_ID[SILENCE]
    begin = torch.full((n,), (1 - QUIET_FIRST) / n, device=scores.device, dtype=torch.float64)
    begin[quiet] += QUIET_FIRST
    states = torch.zeros((steps + 1, n, b, n), device=scores.device, dtype=torch.float64)
    entered = torch.zeros((steps, n, b, n), device=scores.device, dtype=torch.float64)
    scale = torch.zeros((steps, b, 1), device=scores.device, dtype=torch.float64)
    for t in range(steps):
        if t:
            entered[t] = torch.bmm(states[t], onward) * enter[t]
        else:
            entered[0, quiet] = begin * enter[0]
        now = entered[t].permute(2, 1, 0)
        if t:
            now = now + states[t] * stay[t]
        scale[t] = now.sum((0, 2))[:, None] + 1e-30
        states[t + 1] = now / scale[t]
    beta = torch.ones((n, b, n), device=scores.device, dtype=torch.float64)
    used_enter = torch.zeros((steps, b, n), device=scores.device, dtype=torch.float64)
    used_stay = torch.zeros((steps, n, b), device=scores.device, dtype=torch.float64)
    for t in range(steps - 1, -1, -1):
        reached = beta / scale[t]
        turned = reached.permute(2, 1, 0)
        used_enter[t] = (entered[t] * turned).sum(0)
        if t:
            kept = stay[t] * reached
            used_stay[t] = (states[t] * kept).sum(2)
            beta = torch.bmm(turned * enter[t], back) + kept
    used = torch.stack([used_enter.permute(1, 0, 2), used_stay.permute(2, 0, 1)], 3).flatten(2)
    return (scale.log().sum((0, 2)) + top.double().sum((1, 2))).float(), used.float()


def _said(scores: Tensor, sounds: Tensor, at: Tensor) -> tuple[Tensor, Tensor]:
    """The same for the chain of sounds said, with silence allowed before and after it."""
    b, steps, _ = scores.shape
    quiet = SOUND_ID[SILENCE]
    edge = torch.full_like(sounds[:, :1], quiet)
    chain = torch.cat([edge, sounds, edge], 1)
    count = (sounds >= 0).sum(1) + 2
    n = chain.shape[1]
    place = torch.arange(n, device=sounds.device)[None]
    chain = torch.where(place == count[:, None] - 1, quiet, chain).clamp_min(0)
    labelled = torch.minimum(at + 1, count[:, None] - 1)
    first = torch.cat([labelled[:, :1].expand(-1, STRAY), labelled[:, :-STRAY]], 1)[:, :, None]
    last = torch.cat([labelled[:, STRAY:], labelled[:, -1:].expand(-1, STRAY)], 1)[:, :, None]
    live = (place < count[:, None])[:, None] & (place[None] >= first - 1) & (place[None] <= last + 1)
    still = (chain == quiet) & (torch.nn.functional.pad(chain[:, :-1], (1, 0), value=-1) == quiet)
    into, inside = 2 * chain + still.long(), 2 * chain + 1
    enter = scores.gather(2, into[:, None].expand(-1, steps, -1)).masked_fill(~live, LOW)
    stay = scores.gather(2, inside[:, None].expand(-1, steps, -1)).masked_fill(~live, LOW)
    alphas = torch.full((steps, b, n), LOW, device=scores.device)
    alphas[0, :, :2] = enter[:, 0, :2]
    for t in range(1, steps):
        before = torch.nn.functional.pad(alphas[t - 1, :, :-1], (1, 0), value=LOW)
        alphas[t] = torch.logaddexp(before + enter[:, t], alphas[t - 1] + stay[:, t]).clamp_min(LOW)
    beta = torch.where((place >= count[:, None] - 2) & (place < count[:, None]), 0.0, LOW)
    total = (alphas[-1] + beta).logsumexp(1)
    used = torch.zeros_like(scores)
    for t in range(steps - 1, -1, -1):
        if t:
            before = torch.nn.functional.pad(alphas[t - 1, :, :-1], (1, 0), value=LOW)
            loops = (alphas[t - 1] + stay[:, t] + beta - total[:, None]).clamp_max(0.0).exp()
            used[:, t].scatter_add_(1, inside, loops)
        else:
            before = torch.where(place < 2, 0.0, LOW).expand(b, -1)
        used[:, t].scatter_add_(1, into, (before + enter[:, t] + beta - total[:, None]).clamp_max(0.0).exp())
        if t:
            onward = torch.nn.functional.pad((beta + enter[:, t])[:, 1:], (0, 1), value=LOW)
            beta = torch.logaddexp(beta + stay[:, t], onward).clamp_min(LOW)
    return total, used


def _loss_and_slope(scores: Tensor, sounds: Tensor, at: Tensor, follow: Tensor) -> tuple[Tensor, Tensor]:
    every, used_every = _anything(scores, follow)
    said, used_said = _said(scores, sounds, at)
    good = (said > LOW / 2) & torch.isfinite(every)
    weight = good.float() / (good.sum().clamp_min(1) * scores.shape[1])
    slope = (used_every - used_said) * weight[:, None, None]
    return (torch.where(good, every - said, 0.0) * weight).sum(), torch.where(good[:, None, None], slope, 0.0)


class _Recorded:
    """The thousands of small kernels of one shape of batch, recorded once and started as one: several times faster."""

    def __init__(self, *given: Tensor) -> None:
        self._given = [tensor.clone() for tensor in given]
        aside = torch.cuda.Stream()
        aside.wait_stream(torch.cuda.current_stream())
        with torch.cuda.stream(aside):
            _loss_and_slope(*self._given)
        torch.cuda.current_stream().wait_stream(aside)
        self._graph = torch.cuda.CUDAGraph()
        with torch.cuda.graph(self._graph, capture_error_mode="thread_local"):
            self._loss, self._slope = _loss_and_slope(*self._given)

    def __call__(self, *given: Tensor) -> tuple[Tensor, Tensor]:
        for kept, new in zip(self._given, given, strict=True):
            kept.copy_(new)
        self._graph.replay()
        return self._loss.clone(), self._slope.clone()


_recorded: dict[tuple[torch.Size, ...], _Recorded] = {}


class _Mmi(torch.autograd.Function):
    @staticmethod
    def forward(context: Any, scores: Tensor, sounds: Tensor, at: Tensor, follow: Tensor) -> Tensor:
        given = (scores.detach(), sounds, at, follow)
        if scores.is_cuda:
            shapes = tuple(tensor.shape for tensor in given)
            if shapes not in _recorded:
                _recorded[shapes] = _Recorded(*given)
            loss, slope = _recorded[shapes](*given)
        else:
            loss, slope = _loss_and_slope(*given)
        context.save_for_backward(slope)
        return loss

    @staticmethod
    def backward(context: Any, *grads: Tensor) -> tuple[Tensor, None, None, None]:
        (slope,) = context.saved_tensors
        return slope * grads[0], None, None, None


def mmi_loss(scores: Tensor, sounds: Tensor, at: Tensor, follow: Tensor) -> Tensor:
    """Mean over frames of log P(anything) - log P(said).

    `scores` is (batch, time, outputs), `sounds` (batch, most) with -1 after the last, `at` (batch, time) the place of
    each label among the sounds, -1 before the first.
    """
    loss: Tensor = _Mmi.apply(scores.float(), sounds, at, follow)
    return loss
