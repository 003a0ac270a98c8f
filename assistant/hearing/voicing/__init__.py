"""How likely each frame of a sound holds speech: a small recurrent network of our own.

Levels alone cannot tell a voice from gusts, hammering or a digger; this network was shown people's speech under such
noises at every ratio (`train.py`), and carries what it heard from frame to frame.
"""

from __future__ import annotations

from functools import cache
from importlib.resources import files

import numpy as np

from assistant.hearing.voicing.bands import FRAME, Array, bands

__all__ = ["FRAME", "Voicing", "bands"]


class Voicing:
    """The network (a gated recurrent unit and one output), fed the bands of one frame after another."""

    def __init__(self) -> None:
        self._weights = _weights()
        self._state = np.zeros(self._weights["hidden"].shape[1], np.float32)

    def __call__(self, seen: Array) -> float:
        """The chance of speech in the next frame, of which `seen` are the `bands`, 0 to 1."""
        w, size = self._weights, len(self._state)
        given = w["input"] @ seen + w["input_bias"]
        kept = w["hidden"] @ self._state + w["hidden_bias"]
        gates = _sigmoid(given[: 2 * size] + kept[: 2 * size])
        reset, keep = gates[:size], gates[size:]
        fresh = np.tanh(given[2 * size :] + reset * kept[2 * size :])
        self._state = (1 - keep) * fresh + keep * self._state
        return float(_sigmoid(w["output"] @ self._state + w["output_bias"])[0])


def _sigmoid(x: Array) -> Array:
    return np.asarray(1 / (1 + np.exp(-np.clip(x, -30, 30))), np.float32)


@cache
def _weights() -> dict[str, Array]:
    """The matrices by name: a line has the name, the shape as in 96x20, and the numbers by rows."""
    text = files("assistant.hearing.voicing").joinpath("weights.txt").read_text("utf-8")
    found = {}
    for line in text.splitlines():
        name, shape, *numbers = line.split()
        found[name] = np.array(numbers, np.float32).reshape([int(n) for n in shape.split("x")])
    return found
