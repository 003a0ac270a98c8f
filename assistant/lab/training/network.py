"""The acoustic network: log-mel frames at 100 a second in, log-probabilities of outputs at 33.3 a second out."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path

import torch
from torch import Tensor, nn

from assistant.lab.training.fbank import MELS
from assistant.lab.training.sounds import PDFS

STRIDE = 3
MEAN, SPREAD = 10.0, 4.0
"""Of log-mel values, roughly; folded into the first layer when the network is written out."""

REACH = (3, 3, 3, 3, 3, 6, 6, 6, 6, 6, 6, 6)
"""How many frames each layer after the second looks to either side."""

FIRST_REACH = (3, 3, 3, 3, 3, 6, 6, 6, 6, 6)
"""The same of the networks that were stored without it."""


class Layer(nn.Module):
    """A narrow linear layer over two moments, a wide one over two, batch norm, ReLU, and the input added."""

    def __init__(self, width: int, neck: int, reach: int, drop: float) -> None:
        super().__init__()
        step = reach // STRIDE
        self.reach = reach
        self.linear = nn.Conv1d(width, neck, 2, dilation=step, bias=False)
        self.affine = nn.Conv1d(neck, width, 2, dilation=step)
        self.norm = nn.BatchNorm1d(width)
        self.drop = nn.Dropout(drop)

    def forward(self, x: Tensor) -> Tensor:
        """Map (batch, time, width); `2 * reach / STRIDE` moments shorter."""
        step = self.reach // STRIDE
        inner = over_two(self.affine, over_two(self.linear, x, step), step)
        return x[:, step:-step] + self.drop(torch.relu(normed(self.norm, inner)))


def over_two(layer: nn.Conv1d, x: Tensor, step: int) -> Tensor:
    """Apply a convolution over two moments `step` apart as one matrix product, which is faster."""
    weight = layer.weight.permute(0, 2, 1).flatten(1)
    return nn.functional.linear(torch.cat([x[:, :-step], x[:, step:]], 2), weight, layer.bias)


def normed(norm: nn.BatchNorm1d, x: Tensor) -> Tensor:
    """Apply a batch norm to (batch, time, width)."""
    y: Tensor = norm(x.flatten(0, 1))
    return y.view_as(x)


class Network(nn.Module):
    """Two layers that bring 100 frames a second to 33.3, then the residual layers of `REACH`."""

    def __init__(self, width: int = 512, neck: int = 128, drop: float = 0.05, reach: Sequence[int] = REACH) -> None:
        super().__init__()
        self.width, self.neck, self.reach = width, neck, tuple(reach)
        self.first = nn.Conv1d(MELS, width, 3)
        self.first_norm = nn.BatchNorm1d(width)
        self.linear = nn.Conv1d(width, neck, 3, stride=STRIDE, bias=False)
        self.second = nn.Conv1d(neck, width, 1)
        self.second_norm = nn.BatchNorm1d(width)
        self.layers = nn.ModuleList(Layer(width, neck, r, drop) for r in reach)
        self.out = nn.Conv1d(width, PDFS, 1)
        self.context = 2 + sum(reach)
        self.register_buffer("priors", torch.full((PDFS,), 1.0 / PDFS))

    def forward(self, frames: Tensor) -> Tensor:
        """Score frames (batch, time, 40), already padded by `context` on both sides: (batch, time / 3, outputs)."""
        x = ((frames - MEAN) / SPREAD).unfold(1, 3, 1).flatten(2)
        x = nn.functional.linear(x, self.first.weight.flatten(1), self.first.bias)
        x = torch.relu(normed(self.first_norm, x))
        steps = x.shape[1] // STRIDE
        x = x[:, : steps * STRIDE].reshape(len(x), steps, -1)
        x = nn.functional.linear(x, self.linear.weight.permute(0, 2, 1).flatten(1))
        x = nn.functional.linear(x, self.second.weight[:, :, 0], self.second.bias)
        x = torch.relu(normed(self.second_norm, x))
        for layer in self.layers:
            x = layer(x)
        x = nn.functional.linear(x, self.out.weight[:, :, 0], self.out.bias)
        return torch.log_softmax(x.float(), 2)

    def pad(self, frames: Tensor) -> Tensor:
        """Repeat the edge frames of (batch, time, 40), as the decoder does: outputs then stand at frames 0, 3, 6 ..."""
        extra = -frames.shape[1] % STRIDE
        before = frames[:, :1].expand(-1, self.context, -1)
        after = frames[:, -1:].expand(-1, self.context + extra, -1)
        return torch.cat([before, frames, after], 1)


def save(net: Network, path: Path) -> None:
    """Store a network."""
    torch.save({"width": net.width, "neck": net.neck, "reach": net.reach, "state": net.state_dict()}, path)


def load(path: Path) -> Network:
    """Read a network that `save` stored."""
    kept = torch.load(path, map_location="cpu", weights_only=True)
    net = Network(kept["width"], kept["neck"], reach=kept.get("reach", FIRST_REACH))
    net.load_state_dict(kept["state"])
    return net.eval()
