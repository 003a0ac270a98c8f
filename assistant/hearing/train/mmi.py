"""The sentence criterion: how much likelier is what was said than anything else that could have been said.

Maximum mutual information without lattices: the sounds said are a chain, everything else is a bigram of sounds,
and both are summed over all ways to stretch them in time (forward-backward), as in Povey et al., "Purely
sequence-trained neural networks for ASR based on lattice-free MMI", Interspeech 2016, which was not at hand here.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import torch
from torch import Tensor

from assistant.hearing.train.sounds import SILENCE, SOUND_ID, SOUNDS

LOW = -1e30


@dataclass(frozen=True)
class SoundModel:
    """Which sound follows which: probabilities (from, to)."""

    follow: Tensor


def sound_model(chains: list[list[int]], device: torch.device) -> SoundModel:
    """Count bigrams of sounds in utterances, mixed with a little of everything."""
    n, quiet = len(SOUNDS), SOUND_ID[SILENCE]
    counts = torch.full((n, n), 0.5)
    for chain in chains:
        for a, b in zip([quiet, *chain], [*chain, quiet], strict=True):
            if a != b or a != quiet:
                counts[a, b] += 1
    counts[quiet, quiet] = 0.0
    return SoundModel((counts / counts.sum(1, keepdim=True)).to(device))


def _anything(scores: Tensor, model: SoundModel) -> tuple[Tensor, Tensor]:
    """Log-sum of all chains of sounds (batch,), and how much each output is used (batch, time, outputs)."""
    scores = scores.double()
    b, steps, _ = scores.shape
    top = scores.amax(2, keepdim=True)
    likely = (scores - top).clamp_min(-30.0).exp()
    enter, stay = likely[:, :, 0::2], likely[:, :, 1::2]
    n = enter.shape[2]
    follow = model.follow.double()
    alphas = torch.zeros(steps + 1, b, n, device=scores.device, dtype=torch.float64)
    alphas[0, :, SOUND_ID[SILENCE]] = 1.0
    scale = torch.zeros(steps, b, 1, device=scores.device, dtype=torch.float64)
    for t in range(steps):
        now = (alphas[t] @ follow) * enter[:, t] + (alphas[t] * stay[:, t] if t else 0.0)
        scale[t] = now.sum(1, keepdim=True) + 1e-30
        alphas[t + 1] = now / scale[t]
    beta = torch.ones(b, n, device=scores.device, dtype=torch.float64)
    used = torch.zeros_like(scores)
    for t in range(steps - 1, -1, -1):
        reached = beta / scale[t]
        used[:, t, 0::2] = (alphas[t] @ follow) * enter[:, t] * reached
        if t:
            used[:, t, 1::2] = alphas[t] * stay[:, t] * reached
            beta = (enter[:, t] * reached) @ follow.T + stay[:, t] * reached
    return (scale.log().sum((0, 2)) + top.sum((1, 2))).float(), used.float()


def _said(scores: Tensor, sounds: Tensor) -> tuple[Tensor, Tensor]:
    """The same for the chain of sounds said, with silence allowed before and after it."""
    b, steps, _ = scores.shape
    quiet = SOUND_ID[SILENCE]
    edge = torch.full_like(sounds[:, :1], quiet)
    chain = torch.cat([edge, sounds, edge], 1)
    count = (sounds >= 0).sum(1) + 2
    n = chain.shape[1]
    at = torch.arange(n, device=sounds.device)[None]
    chain = torch.where(at == count[:, None] - 1, quiet, chain)
    live = at < count[:, None]
    chain = chain.clamp_min(0)
    enter = scores.gather(2, (2 * chain)[:, None].expand(-1, steps, -1)).masked_fill(~live[:, None], LOW)
    stay = scores.gather(2, (2 * chain + 1)[:, None].expand(-1, steps, -1)).masked_fill(~live[:, None], LOW)
    alphas = torch.full((steps, b, n), LOW, device=scores.device)
    alphas[0, :, :2] = enter[:, 0, :2]
    for t in range(1, steps):
        before = torch.nn.functional.pad(alphas[t - 1, :, :-1], (1, 0), value=LOW)
        alphas[t] = torch.logaddexp(before + enter[:, t], alphas[t - 1] + stay[:, t])
    ends = (at >= count[:, None] - 2) & live
    beta = torch.where(ends, 0.0, LOW)
    total = (alphas[-1] + beta).logsumexp(1)
    used = torch.zeros_like(scores)
    for t in range(steps - 1, -1, -1):
        if t:
            before = torch.nn.functional.pad(alphas[t - 1, :, :-1], (1, 0), value=LOW)
            loops = (alphas[t - 1] + stay[:, t] + beta - total[:, None]).clamp_max(0.0).exp()
            used[:, t].scatter_add_(1, 2 * chain + 1, loops)
        else:
            before = torch.where(at < 2, 0.0, LOW).expand(b, -1)
        used[:, t].scatter_add_(1, 2 * chain, (before + enter[:, t] + beta - total[:, None]).clamp_max(0.0).exp())
        if t:
            onward = torch.nn.functional.pad((beta + enter[:, t])[:, 1:], (0, 1), value=LOW)
            beta = torch.logaddexp(beta + stay[:, t], onward)
    return total, used


class _Mmi(torch.autograd.Function):
    @staticmethod
    def forward(context: Any, scores: Tensor, sounds: Tensor, follow: Tensor) -> Tensor:
        every, used_every = _anything(scores, SoundModel(follow))
        said, used_said = _said(scores, sounds)
        good = (said > LOW / 2) & torch.isfinite(every)
        weight = good.float() / (good.sum().clamp_min(1) * scores.shape[1])
        slope = (used_every - used_said) * weight[:, None, None]
        context.save_for_backward(torch.where(good[:, None, None], slope, 0.0))
        return (torch.where(good, every - said, 0.0) * weight).sum()

    @staticmethod
    def backward(context: Any, *grads: Tensor) -> tuple[Tensor, None, None]:
        (slope,) = context.saved_tensors
        return slope * grads[0], None, None


def mmi_loss(scores: Tensor, sounds: Tensor, model: SoundModel) -> Tensor:
    """Mean over frames of log P(anything) - log P(said).

    `scores` is (batch, time, outputs), `sounds` (batch, most) with -1 after the last.
    """
    loss: Tensor = _Mmi.apply(scores.float(), sounds, model.follow)
    return loss
