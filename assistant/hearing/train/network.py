"""The acoustic network: log-mel frames at 100 a second in, log-probabilities of outputs at 33.3 a second out."""

from __future__ import annotations

from pathlib import Path

import torch
from torch import Tensor, nn

from assistant.hearing.train.fbank import MELS
from assistant.hearing.train.sounds import PDFS

STRIDE = 3
MEAN, SPREAD = 10.0, 4.0
"""Of log-mel values, roughly; folded into the first layer when the network is written out."""

REACH = (3, 3, 3, 3, 3, 6, 6, 6, 6, 6)
"""How many frames each layer after the second looks to either side."""


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
        """Map (batch, width, time); `2 * reach / STRIDE` moments shorter."""
        step = self.reach // STRIDE
        return x[:, :, step:-step] + self.drop(torch.relu(self.norm(self.affine(self.linear(x)))))


class Network(nn.Module):
    """Two layers that bring 100 frames a second to 33.3, then the residual layers of `REACH`."""

    def __init__(self, width: int = 432, neck: int = 112, drop: float = 0.05) -> None:
        super().__init__()
        self.width, self.neck = width, neck
        self.first = nn.Conv1d(MELS, width, 3)
        self.first_norm = nn.BatchNorm1d(width)
        self.linear = nn.Conv1d(width, neck, 3, stride=STRIDE, bias=False)
        self.second = nn.Conv1d(neck, width, 1)
        self.second_norm = nn.BatchNorm1d(width)
        self.layers = nn.ModuleList(Layer(width, neck, reach, drop) for reach in REACH)
        self.out = nn.Conv1d(width, PDFS, 1)
        self.context = 2 + sum(REACH)
        self.register_buffer("priors", torch.full((PDFS,), 1.0 / PDFS))

    def forward(self, frames: Tensor) -> Tensor:
        """Score frames (batch, time, 40), already padded by `context` on both sides: (batch, time / 3, outputs)."""
        x = (frames.transpose(1, 2) - MEAN) / SPREAD
        x = torch.relu(self.first_norm(self.first(x)))
        x = torch.relu(self.second_norm(self.second(self.linear(x))))
        for layer in self.layers:
            x = layer(x)
        return torch.log_softmax(self.out(x).float(), 1).transpose(1, 2)

    def pad(self, frames: Tensor) -> Tensor:
        """Repeat the edge frames of (batch, time, 40), as the decoder does: outputs then stand at frames 0, 3, 6 ..."""
        extra = -frames.shape[1] % STRIDE
        before = frames[:, :1].expand(-1, self.context, -1)
        after = frames[:, -1:].expand(-1, self.context + extra, -1)
        return torch.cat([before, frames, after], 1)


def save(net: Network, path: Path) -> None:
    """Store a network."""
    torch.save({"width": net.width, "neck": net.neck, "state": net.state_dict()}, path)


def load(path: Path) -> Network:
    """Read a network that `save` stored."""
    kept = torch.load(path, map_location="cpu", weights_only=True)
    net = Network(kept["width"], kept["neck"])
    net.load_state_dict(kept["state"])
    return net.eval()
