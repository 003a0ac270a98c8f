"""What every picture of a report shares: black on white, words and patterns before hue, no label over another."""

from __future__ import annotations

import io
import re
from collections.abc import Iterable, Sequence
from contextlib import AbstractContextManager
from fractions import Fraction
from typing import Any

import matplotlib
from matplotlib.axes import Axes
from matplotlib.figure import Figure
from matplotlib.patheffects import withStroke
from matplotlib.text import Annotation, Text
from matplotlib.ticker import FuncFormatter, MaxNLocator
from matplotlib.transforms import Bbox

from assistant.report.earth import station_text
from grammar.quantities import Marking

STYLE: Any = {
    "font.size": 9,
    "axes.spines.top": False,
    "axes.spines.right": False,
    "axes.linewidth": 0.8,
    "axes.labelsize": 9,
    "legend.frameon": False,
    "legend.fontsize": 8.5,
    "hatch.linewidth": 0.7,
    "svg.fonttype": "path",
    "svg.hashsalt": "rodside",
}
INK, SOFT, CUT, FILL = "#111111", "#555555", "#8a4b08", "#1f4e9c"
CUT_HATCH, FILL_HATCH = "/////", "-----"
HALO = [withStroke(linewidth=2.2, foreground="white")]
WIDTH = 7.4
"""Inches: the width of the text on either paper."""

COLUMNS = 533
"""Points of print across a picture, beside which nothing finer is seen."""

_SHIFTS = ((0, 9), (0, -15), (0, 22), (0, -28))
_GAP = 1.5


def styled() -> AbstractContextManager[None]:
    """Within this, pictures are drawn as all of them are."""
    return matplotlib.rc_context(STYLE)


def new(height: float) -> tuple[Figure, Axes]:
    """An empty picture of the width of the page."""
    figure = Figure(figsize=(WIDTH, height), layout="constrained")
    return figure, figure.subplots()


def stations_along(axes: Axes, marking: Marking) -> None:
    """Write the stations as places are written."""
    axes.xaxis.set_major_locator(MaxNLocator(nbins=8, steps=[1, 2, 2.5, 5, 10]))
    axes.xaxis.set_major_formatter(
        FuncFormatter(lambda at, _: station_text(Fraction(at).limit_denominator(100), marking))
    )


def legend(axes: Axes, columns: int = 4) -> None:
    """What each line and pattern is, below the picture, row by row in the order in which they were drawn."""
    handles, names = axes.get_legend_handles_labels()
    order = [item for column in range(columns) for item in range(column, len(names), columns)]
    axes.legend([handles[n] for n in order], [names[n] for n in order], ncols=columns, loc="upper center",
                bbox_to_anchor=(0.5, -0.2), handlelength=2.6)  # fmt: skip


def label(axes: Axes, items: Iterable[tuple[float, float, str]], *, most: int = 40) -> list[Annotation]:
    """Write texts beside points, above or below, leaving out those that would lie on another or out of the picture.

    The table beside a picture has them all. Of more than `most`, every so many is tried.
    """
    every = list(items)
    tried: Sequence[tuple[float, float, str]] = every[:: max(1, -(-len(every) // most))]
    figure = axes.get_figure()
    assert isinstance(figure, Figure)
    figure.draw_without_rendering()
    inside = axes.get_window_extent()
    taken = [box for text in axes.texts if (box := _box(text))]
    taken += [key.get_window_extent()] if (key := axes.get_legend()) else []
    written = []
    for x, y, text in tried:
        for shift in _SHIFTS:
            note = axes.annotate(
                text,
                (x, y),
                shift,
                textcoords="offset points",
                ha="center",
                fontsize=7.5,
                color=INK,
                annotation_clip=False,
                path_effects=HALO,
            )
            box = _box(note)
            if _within(box, inside) and not any(box.overlaps(other) for other in taken):
                taken.append(box)
                written.append(note)
                break
            note.remove()
    return written


def thin_out(axes: Axes, texts: Iterable[Text]) -> None:
    """Remove each text that lies on an earlier one."""
    figure = axes.get_figure()
    assert isinstance(figure, Figure)
    figure.draw_without_rendering()
    taken: list[Bbox] = []
    for text in list(texts):
        box = _box(text)
        if any(box.overlaps(other) for other in taken):
            text.remove()
        else:
            taken.append(box)


def _box(text: Text) -> Bbox:
    return Bbox(text.get_window_extent()).padded(_GAP)


def _within(box: Bbox, outer: Bbox) -> bool:
    return bool(box.x0 >= outer.x0 and box.x1 <= outer.x1 and box.y0 >= outer.y0 and box.y1 <= outer.y1)


def svg(figure: Figure, name: str, description: str) -> str:
    """A picture as SVG to stand within a page: its names are its own, its description is read aloud."""
    stream = io.StringIO()
    figure.savefig(stream, format="svg", metadata={"Date": None, "Creator": None, "Format": None, "Type": None})
    text = stream.getvalue()
    text = text[text.index("<svg") :]
    text = re.sub(r"<metadata>.*?</metadata>", "", text, flags=re.DOTALL)
    text = re.sub(r' d="[^"]*"', _rounded, text)
    text = re.sub(r'(\bid="|href="#|url\(#)', rf"\g<1>{name}-", text)
    return text.replace("<svg ", f'<svg role="img" aria-label="{description}" ', 1)


def _rounded(path: re.Match[str]) -> str:
    """A path to a hundredth of a point: finer is not seen, and half of the page."""
    return re.sub(r"(\.\d\d)\d+", r"\1", path[0])
