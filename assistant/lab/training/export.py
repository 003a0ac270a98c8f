"""Write a trained network as the decoder's final.mdl, with every batch norm folded into the layer before it."""

from __future__ import annotations

from functools import partial
from pathlib import Path

import numpy as np
from torch import nn

from assistant.lab.training.fbank import MELS
from assistant.lab.training.kaldi_files import (
    Array,
    Component,
    fine_matrix,
    nonlinear,
    same,
    small_matrix,
    tdnn,
    write_model,
)
from assistant.lab.training.network import MEAN, SPREAD, Layer, Network
from assistant.lab.training.sounds import PDFS, PHONES, first_pdf

LEAST_PRIOR = 1e-4


def export(net: Network, path: Path) -> None:
    """Write the network."""
    config, components = [f"input-node name=input dim={MELS}"], list[Component]()

    def node(name: str, source: str, write: Component) -> str:
        config.append(f"component-node name={name} component={name} input={source}")
        components.append(write)
        return name

    def conv(name: str, source: str, weight: Array, bias: Array, *offsets: int) -> str:
        # what enters is far from zero, and multiplies every error of the first weights
        matrix = fine_matrix if source == "input" else small_matrix
        write = partial(tdnn, weight=weight, bias=bias, offsets=offsets, matrix=matrix)
        return node(name, source, (name, write))

    def relu(name: str, source: str) -> str:
        write = partial(nonlinear, kind="RectifiedLinearComponent", size=net.width)
        return node(name, source, (name, write))

    none = np.zeros(0)
    weight, bias = folded(net.first, net.first_norm)
    weight, bias = weight / SPREAD, bias - weight.sum(1) * MEAN / SPREAD
    here = relu("relu1", conv("affine1", "input", weight, bias, -1, 0, 1))
    here = conv("linear2", here, columns(net.linear), none, -1, 0, 1)
    here = relu("relu2", conv("affine2", here, *folded(net.second, net.second_norm), 0))
    for i, layer in enumerate(net.layers, 3):
        assert isinstance(layer, Layer)
        inner = conv(f"linear{i}", here, columns(layer.linear), none, -layer.reach, 0)
        inner = relu(f"relu{i}", conv(f"affine{i}", inner, *folded(layer.affine, layer.norm), 0, layer.reach))
        here = node(f"sum{i}", f"Sum({here}, {inner})", (f"sum{i}", partial(same, size=net.width)))
    assert net.out.bias is not None
    here = conv("out", here, columns(net.out), net.out.bias.detach().numpy(), 0)
    log = partial(nonlinear, kind="LogSoftmaxComponent", size=PDFS)
    here = node("log", here, ("log", log))
    config.append(f"output-node name=output input={here} objective=linear")
    priors = net.priors.clamp_min(LEAST_PRIOR).numpy()
    first = [first_pdf(phone) for phone in PHONES]
    write_model(path, first, config, components, net.context, priors / priors.sum())


def columns(layer: nn.Conv1d) -> Array:
    """Give a convolution's weight as (outputs, moments x inputs), grouped by moment."""
    return _grouped(layer.weight.detach().numpy())


def folded(layer: nn.Conv1d, norm: nn.BatchNorm1d) -> tuple[Array, Array]:
    """Give weight and bias of a convolution followed by a batch norm in its final state."""
    assert norm.running_var is not None and norm.running_mean is not None and layer.bias is not None
    scale = (norm.weight / (norm.running_var + norm.eps).sqrt()).detach()
    weight = (layer.weight * scale[:, None, None]).detach().numpy()
    bias = (layer.bias - norm.running_mean) * scale + norm.bias
    return _grouped(weight), bias.detach().numpy()


def _grouped(weight: Array) -> Array:
    return weight.transpose(0, 2, 1).reshape(len(weight), -1)
