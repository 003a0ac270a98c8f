"""The little-endian binary files that the decoder reads: numbers, arrays, transition model, network.

The layout was found by writing files and seeing what the stock recogniser accepts; it is kept as small as it accepts.
"""

from __future__ import annotations

import struct
from collections.abc import Callable, Sequence
from pathlib import Path
from typing import Any, BinaryIO

import numpy as np
import numpy.typing as npt

Array = npt.NDArray[Any]
Component = tuple[str, Callable[[BinaryIO], None]]
"""A name, and what writes the component."""


def token(out: BinaryIO, *texts: str) -> None:
    """Write words, each followed by one space."""
    for text in texts:
        out.write(text.encode() + b" ")


def whole(out: BinaryIO, *values: int) -> None:
    """Write 32-bit integers, each after a byte that gives its size."""
    for value in values:
        out.write(struct.pack("<bi", 4, value))


def real(out: BinaryIO, *values: float) -> None:
    """Write 32-bit floats, each after a byte that gives its size."""
    for value in values:
        out.write(struct.pack("<bf", 4, value))


def wholes(out: BinaryIO, values: Sequence[int]) -> None:
    """Write a list of integers: size of one, bare count, data."""
    out.write(struct.pack("<bi", 4, len(values)) + np.asarray(values, "<i4").tobytes())


def vector(out: BinaryIO, values: Array | Sequence[float]) -> None:
    """Write a float vector."""
    data = np.asarray(values, "<f4").ravel()
    token(out, "FV")
    whole(out, len(data))
    out.write(data.tobytes())


QUARTERS = (0, 64, 192, 255)
"""The bytes that stand for the least value of a column, its quartiles, and its greatest value."""


def small_matrix(out: BinaryIO, values: Array) -> None:
    """Write a matrix in 8 bits a value: a quarter of the size.

    Each column has its least value, quartiles and greatest value in 16 bits, and a byte for each value, evenly spaced
    between two of these; half of the bytes are spent on the middle half of the values.
    """
    low = float(values.min())
    span = max(float(values.max()) - low, 1e-9)
    ends = np.percentile(values, (0, 25, 75, 100), axis=0, method="nearest").T
    heads = np.round((ends - low) / span * 65535).astype(np.int64)
    for k, (least, most) in enumerate(((0, 65532), (1, 65533), (2, 65534), (3, 65535))):
        heads[:, k] = np.clip(heads[:, k], heads[:, k - 1] + 1 if k else least, most)
    ends = low + heads * (span / 65535)
    codes = np.stack([np.interp(column, knots, QUARTERS) for column, knots in zip(values.T, ends, strict=True)])
    token(out, "CM")
    out.write(struct.pack("<ffii", low, span, *values.shape))
    out.write(heads.astype("<u2").tobytes() + np.round(codes).astype("u1").tobytes())


def fine_matrix(out: BinaryIO, values: Array) -> None:
    """Write a matrix in 16 bits a value, evenly spaced between the least and the greatest."""
    low = float(values.min())
    span = max(float(values.max()) - low, 1e-9)
    token(out, "CM2")
    out.write(struct.pack("<ffii", low, span, *values.shape))
    out.write(np.round((values - low) / span * 65535).astype("<u2").tobytes())


def read_matrix(data: bytes, at: int) -> tuple[Array, int]:
    """Read a matrix that `small_matrix` or `fine_matrix` wrote, from its token on; return it and where it ends."""
    if data.startswith(b"CM2 ", at):
        low, span, rows, columns = struct.unpack_from("<ffii", data, at + 4)
        codes = np.frombuffer(data, "<u2", rows * columns, at + 20).reshape(rows, columns)
        return low + codes * (span / 65535), at + 20 + 2 * rows * columns
    return _read_small_matrix(data, at + len(b"CM "))


def _read_small_matrix(data: bytes, at: int) -> tuple[Array, int]:
    low, span, rows, columns = struct.unpack_from("<ffii", data, at)
    heads = np.frombuffer(data, "<u2", 4 * columns, at + 16).reshape(columns, 4)
    codes = np.frombuffer(data, "u1", rows * columns, at + 16 + 8 * columns).reshape(columns, rows)
    ends = low + heads * (span / 65535)
    read = [np.interp(column, QUARTERS, knots) for column, knots in zip(codes, ends, strict=True)]
    return np.stack(read, axis=1), at + 16 + (8 + rows) * columns


def transitions(out: BinaryIO, first_pdfs: Sequence[int]) -> None:
    """Write one emitting state for each phone 1, 2, ...: its first frame scored by `first_pdfs`, others by the next.

    The loop of phone i (from 0) has transition id 2i + 1, the way in has 2i + 2.
    """
    count = len(first_pdfs)
    token(out, "<TransitionModel>", "<Topology>")
    wholes(out, range(1, count + 1))
    wholes(out, [-1, *[0] * count])
    whole(out, -1, 1, 2)  # -1: a state has two pdfs; one kind of phone, of two states
    whole(out, 0, 1, 2)  # way in is class 0, loop is class 1, two arcs
    for state in (0, 1):
        whole(out, state)
        real(out, 0.5)
    whole(out, -1, -1, 0)  # the end scores nothing and leads nowhere
    token(out, "</Topology>", "<Tuples>")
    whole(out, count)
    for phone, pdf in enumerate(first_pdfs, 1):
        whole(out, phone, 0, pdf, pdf + 1)
    token(out, "</Tuples>", "<LogProbs>")
    vector(out, [0.0, *[float(np.log(0.5))] * (2 * count)])
    token(out, "</LogProbs>", "</TransitionModel>")


def tdnn(
    out: BinaryIO,
    weight: Array,
    bias: Array | Sequence[float],
    offsets: Sequence[int],
    matrix: Callable[[BinaryIO, Array], None],
) -> None:
    """Write a layer over frames at `offsets`; `weight` is (outputs, offsets x inputs), `bias` may be empty."""
    token(out, "<TdnnComponent>", "<LearningRate>")
    real(out, 0.001)
    token(out, "<TimeOffsets>")
    wholes(out, offsets)
    token(out, "<LinearParams>")
    matrix(out, weight)
    token(out, "<BiasParams>")
    vector(out, bias)
    token(out, "<OrthonormalConstraint>")
    real(out, 0.0)
    token(out, "<UseNaturalGradient>")
    out.write(b"T")
    token(out, "<NumSamplesHistory>")
    real(out, 2000.0)
    token(out, "<AlphaInOut>")
    real(out, 4.0, 4.0)
    token(out, "<RankInOut>")
    whole(out, 20, 80)
    token(out, "</TdnnComponent>")


def nonlinear(out: BinaryIO, kind: str, size: int) -> None:
    """Write a ReLU or log-softmax, with none of the statistics that only training needs."""
    token(out, f"<{kind}>", "<Dim>")
    whole(out, size)
    for name in ("<ValueAvg>", "<DerivAvg>"):
        token(out, name)
        vector(out, [])
    token(out, "<Count>")
    real(out, 0.0)
    token(out, f"</{kind}>")


def same(out: BinaryIO, size: int) -> None:
    """Write a component that changes nothing: it gives a sum a name."""
    token(out, "<NoOpComponent>", "<Dim>")
    whole(out, size)
    token(out, "<BackpropScale>")
    real(out, 1.0)
    token(out, "</NoOpComponent>")


def write_model(
    path: Path,
    first_pdfs: Sequence[int],
    config: Sequence[str],
    components: Sequence[Component],
    context: int,
    priors: Array,
) -> None:
    """Write final.mdl: transition model, network, the frames it needs on either side, and priors of its outputs."""
    with path.open("wb") as out:
        out.write(b"\0B")
        transitions(out, first_pdfs)
        token(out, "<Nnet3>")
        out.write(("\n" + "".join(f"{line}\n" for line in config) + "\n").encode())
        token(out, "<NumComponents>")
        whole(out, len(components))
        for name, write in components:
            token(out, "<ComponentName>", name)
            write(out)
        token(out, "</Nnet3>", "<LeftContext>")
        whole(out, context)
        token(out, "<RightContext>")
        whole(out, context)
        token(out, "<Priors>")
        vector(out, priors)
