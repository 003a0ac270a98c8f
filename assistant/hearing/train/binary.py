"""The little-endian binary format of the decoder's model file: tokens, numbers, arrays and components.

Facts of the format, each told by the decoder that reads it: a token is text and one space; a number has its size in a
byte before it, a truth value has none; a vector of integers has the size of one element, then a bare count; the
binary mark stands once, at the head of the file.
"""

from __future__ import annotations

import struct
from collections.abc import Sequence
from dataclasses import dataclass, field
from io import BytesIO

import numpy as np
import numpy.typing as npt

Array = npt.NDArray[np.float32]


@dataclass
class Writer:
    """Builds a file in memory. Every method gives the writer back, so that calls follow one another as in the file."""

    out: BytesIO = field(default_factory=BytesIO)

    def raw(self, data: bytes) -> Writer:
        """Put bytes as they are."""
        self.out.write(data)
        return self

    def token(self, *names: str) -> Writer:
        """Put names."""
        return self.raw("".join(f"{name} " for name in names).encode())

    def int(self, *values: int) -> Writer:
        """Put 32-bit integers."""
        return self.raw(b"".join(b"\4" + struct.pack("<i", value) for value in values))

    def float(self, *values: float) -> Writer:
        """Put 32-bit floats."""
        return self.raw(b"".join(b"\4" + struct.pack("<f", value) for value in values))

    def ints(self, values: Sequence[int]) -> Writer:
        """Put a vector of integers."""
        array = np.asarray(values, "<i4")
        return self.raw(b"\4" + struct.pack("<i", len(array)) + array.tobytes())

    def vector(self, values: npt.ArrayLike) -> Writer:
        """Put a vector of floats."""
        array = np.asarray(values, "<f4").ravel()
        return self.token("FV").int(len(array)).raw(array.tobytes())

    def matrix(self, values: npt.ArrayLike) -> Writer:
        """Put a matrix of floats, by rows."""
        array = np.ascontiguousarray(values, "<f4")
        return self.token("FM").int(*array.shape).raw(array.tobytes())


@dataclass
class Nnet:
    """A network as the decoder reads it: a graph in text, then the components in its order."""

    lines: list[str] = field(default_factory=list)
    components: list[tuple[str, bytes]] = field(default_factory=list)

    def node(self, name: str, source: str, component: Writer) -> str:
        """Add a component that takes `source`, and give its name."""
        self.lines.append(f"component-node name={name} component={name} input={source}")
        self.components.append((name, component.out.getvalue()))
        return name


def time_delay(weight: Array, bias: Array, offsets: Sequence[int]) -> Writer:
    """A linear layer over moments. `weight` is (outputs, offsets * inputs), grouped by offset; `bias` may be empty."""
    return (
        Writer()
        .token("<TdnnComponent>", "<LearningRate>")
        .float(0.001)
        .token("<TimeOffsets>")
        .ints(offsets)
        .token("<LinearParams>")
        .matrix(weight)
        .token("<BiasParams>")
        .vector(bias)
        .token("<OrthonormalConstraint>")
        .float(0.0)
        .token("<UseNaturalGradient>")
        .raw(b"T")
        .token("<NumSamplesHistory>")
        .float(2000.0)
        .token("<AlphaInOut>")
        .float(4.0, 4.0)
        .token("<RankInOut>")
        .int(20, 80)
        .token("</TdnnComponent>")
    )


def pointwise(kind: str, size: int) -> Writer:
    """A component without weights: a rectifier, or a log-softmax."""
    return (
        Writer()
        .token(f"<{kind}>", "<Dim>")
        .int(size)
        .token("<ValueAvg>")
        .vector([])
        .token("<DerivAvg>")
        .vector([])
        .token("<Count>")
        .float(0.0)
        .token(f"</{kind}>")
    )


def passing(size: int) -> Writer:
    """A component that does nothing: it gives a sum a name."""
    return (
        Writer()
        .token("<NoOpComponent>", "<Dim>")
        .int(size)
        .token("<BackpropScale>")
        .float(1.0)
        .token("</NoOpComponent>")
    )


def transitions(first_pdfs: Sequence[int]) -> Writer:
    """The transition model: a phone has one state, whose first frame scores by `first_pdfs`, others by the next output.

    Phones count from 1. Arcs are listed self-loop first, so phone i loops on id 2i - 1 and is entered on 2i.
    """
    count = len(first_pdfs)
    topology = (
        Writer()
        .token("<Topology>")
        .ints(range(1, count + 1))
        .ints([-1, *([0] * count)])
        .int(-1, 1, 2)  # two classes of output a state; one entry, of two states
        .int(0, 1, 2)  # entering and staying score by different outputs; two arcs
    )
    for target in (0, 1):
        topology.int(target).float(0.5)
    topology.int(-1, -1, 0).token("</Topology>", "<Tuples>").int(count)
    for phone, pdf in enumerate(first_pdfs, 1):
        topology.int(phone, 0, pdf, pdf + 1)
    return (
        Writer()
        .token("<TransitionModel>")
        .raw(topology.out.getvalue())
        .token("</Tuples>", "<LogProbs>")
        .vector([0.0] + [float(np.log(0.5))] * (2 * count))
        .token("</LogProbs>", "</TransitionModel>")
    )


def model_file(first_pdfs: Sequence[int], nnet: Nnet, context: int, priors: Array) -> bytes:
    """The whole of final.mdl."""
    file = Writer().raw(b"\0B").raw(transitions(first_pdfs).out.getvalue()).token("<Nnet3>")
    file.raw(("\n" + "".join(f"{line}\n" for line in nnet.lines) + "\n").encode())
    file.token("<NumComponents>").int(len(nnet.components))
    for name, component in nnet.components:
        file.token("<ComponentName>", name).raw(component)
    file.token("</Nnet3>", "<LeftContext>").int(context).token("<RightContext>").int(context)
    return file.token("<Priors>").vector(priors).out.getvalue()
