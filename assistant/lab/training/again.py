"""A shipped network read back from final.mdl, so that training can go on where only the model folder is at hand.

Its batch norms were folded into the layers before them when it was written, which left small weights there. The norms
take the mean and spread of what passes them from speech again, and the weights their usual size (`settle`): steps that
suit the other layers would tear the small ones apart.
"""

from __future__ import annotations

import struct
from collections.abc import Sequence
from pathlib import Path
from typing import Any

import numpy as np
import numpy.typing as npt
import torch
from torch import Tensor, nn

from assistant.lab.training.fbank import MELS
from assistant.lab.training.kaldi_files import read_matrix
from assistant.lab.training.network import MEAN, REACH, SPREAD, Layer, Network

Array = npt.NDArray[Any]
USUAL_SIZE = 0.1
"""Root mean square of the weights before a norm, which they may have without any change of what comes after it."""

HARDLY = 0.02
"""Share of its input that a new layer begins with."""

LINEAR, BIAS, PRIORS = b"<LinearParams> ", b"<BiasParams> FV ", b"<Priors> FV "


def read_shipped(path: Path) -> Network:
    """Read a network that `export` wrote; layers beyond `REACH` look as far as its first ones do."""
    data = path.read_bytes()
    layers: list[tuple[Tensor, Tensor]] = []
    at = data.find(LINEAR)
    while at >= 0:
        weight, end = read_matrix(data, at + len(LINEAR))
        layers.append((torch.from_numpy(weight.astype(np.float32)), _vector(data, data.index(BIAS, end) + len(BIAS))))
        at = data.find(LINEAR, end)
    width, neck = len(layers[0][0]), len(layers[1][0])
    more = (len(layers) - 4) // 2 - len(REACH)
    if more < 0:
        raise ValueError(f"{path} has {len(layers)} layers, fewer than {4 + 2 * len(REACH)}")
    reach = (*REACH, *REACH[:1] * more)
    net = Network(width, neck, reach=reach)
    affine, bias = layers[0]
    _put(net.first, affine * SPREAD, bias + affine.sum(1) * MEAN, MELS)
    _put(net.linear, *layers[1], width)
    _put(net.second, *layers[2], neck)
    for layer, linear, wide in zip(net.layers, layers[3:-1:2], layers[4:-1:2], strict=True):
        assert isinstance(layer, Layer)
        _put(layer.linear, *linear, width)
        _put(layer.affine, *wide, neck)
    _put(net.out, *layers[-1], width)
    net.priors.copy_(_vector(data, data.rindex(PRIORS) + len(PRIORS)))
    for _, norm in normed_layers(net):
        norm.running_var.fill_(1.0 - norm.eps)
    return net.eval()


def _vector(data: bytes, at: int) -> Tensor:
    (count,) = struct.unpack_from("<i", data, at + 1)
    return torch.from_numpy(np.frombuffer(data, "<f4", count, at + 5).copy())


@torch.no_grad()
def _put(layer: nn.Conv1d, weight: Tensor, bias: Tensor, inputs: int) -> None:
    layer.weight.copy_(weight.view(len(weight), -1, inputs).permute(0, 2, 1))
    if layer.bias is not None:
        layer.bias.copy_(bias)


def normed_layers(net: Network) -> list[tuple[nn.Conv1d, nn.BatchNorm1d]]:
    """The layers that are followed by a batch norm, and these."""
    found = [(net.first, net.first_norm), (net.second, net.second_norm)]
    for layer in net.layers:
        assert isinstance(layer, Layer)
        found.append((layer.affine, layer.norm))
    return found


@torch.no_grad()
def settle(net: Network, batches: Sequence[Tensor]) -> Network:
    """Give batch norms that change nothing the mean and spread of what passes them, without changing the network."""
    seen: dict[nn.BatchNorm1d, list[Tensor]] = {norm: [] for _, norm in normed_layers(net)}

    def look(norm: nn.Module, inputs: tuple[Tensor, ...]) -> None:
        assert isinstance(norm, nn.BatchNorm1d)
        seen[norm].append(torch.stack([inputs[0].mean(0), inputs[0].square().mean(0)]))

    hooks = [norm.register_forward_pre_hook(look) for norm in seen]
    for frames in batches:
        net.eval()(frames)
    for hook in hooks:
        hook.remove()
    for layer, norm in normed_layers(net):
        mean, square = torch.stack(seen[norm]).mean(0)
        size = USUAL_SIZE / layer.weight.square().mean((1, 2)).sqrt()
        layer.weight.mul_(size[:, None, None])
        assert layer.bias is not None
        layer.bias.mul_(size)
        norm.bias.copy_(mean)
        norm.weight.copy_((square - mean.square()).clamp_min(1e-6).sqrt())
        norm.running_mean.copy_(mean * size)
        norm.running_var.copy_((norm.weight * size).square() - norm.eps)
    return net


@torch.no_grad()
def deepened(net: Network, reach: Sequence[int]) -> Network:
    """Nearly the same function with more layers at its end, which add hardly anything yet; none would learn nothing."""
    deep = Network(net.width, net.neck, reach=[*net.reach, *reach]).to(net.priors.device)
    missing = deep.load_state_dict(net.state_dict(), strict=False).missing_keys
    assert all(name.split(".")[0] == "layers" for name in missing)
    for layer in deep.layers[len(net.reach) :]:
        assert isinstance(layer, Layer)
        layer.norm.weight.fill_(HARDLY)
        layer.norm.bias.zero_()
    return deep.eval()
