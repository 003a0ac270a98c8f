"""Log-mel frames for whole batches, the same as the decoder computes from conf/fbank.conf."""

from __future__ import annotations

import math
from functools import cache

import torch
from torch import Tensor

SAMPLE_RATE = 16_000
MELS, LOWEST, HIGHEST = 40, 60.0, 7600.0
WINDOW, HOP, POINTS = 400, 160, 512
PREEMPHASIS = 0.97
FLOOR = torch.finfo(torch.float32).eps

CONF = f"""--sample-frequency={SAMPLE_RATE}
--num-mel-bins={MELS}
--low-freq={LOWEST:.0f}
--high-freq={HIGHEST:.0f}
--dither=0
--snip-edges=true
"""
"""The decoder's conf/fbank.conf."""


def mel(hertz: Tensor) -> Tensor:
    """Give the mel value of a frequency: 1127 ln(1 + f/700), as the decoder's library has it."""
    return 1127.0 * torch.log1p(hertz / 700.0)


def filters(warp: Tensor) -> Tensor:
    """Triangular filters, evenly spaced in mel. `warp` (batch,) stretches the frequencies: another vocal tract.

    Returns (batch, 257, 40).
    """
    ends = mel(torch.tensor([LOWEST, HIGHEST], device=warp.device))
    centre = torch.linspace(float(ends[0]), float(ends[1]), MELS + 2, device=warp.device)
    hertz = torch.arange(POINTS // 2 + 1, device=warp.device) * (SAMPLE_RATE / POINTS)
    at = mel(hertz[None, :] * warp[:, None])[:, :, None]
    up = (at - centre[:-2]) / (centre[1:-1] - centre[:-2])
    down = (centre[2:] - at) / (centre[2:] - centre[1:-1])
    weights = torch.minimum(up, down).clamp_min(0.0)
    weights[:, -1] = 0.0
    return weights


@cache
def _window(device: torch.device) -> Tensor:
    n = torch.arange(WINDOW, device=device, dtype=torch.float64)
    hann = 0.5 - 0.5 * torch.cos(2 * math.pi * n / (WINDOW - 1))
    return (hann**0.85).float()


def fbank(audio: Tensor, warp: Tensor | None = None) -> Tensor:
    """Compute frames from audio (batch, samples) in -1..1: (batch, frames, 40), 100 frames a second."""
    if warp is None:
        warp = torch.ones(1, device=audio.device)
    frames = (audio * 32768.0).unfold(1, WINDOW, HOP)
    frames = frames - frames.mean(2, keepdim=True)
    before = torch.cat([frames[:, :, :1], frames[:, :, :-1]], 2)
    frames = (frames - PREEMPHASIS * before) * _window(audio.device)
    power = torch.fft.rfft(frames, POINTS).abs().square()
    return (power @ filters(warp)).clamp_min(FLOOR).log()
