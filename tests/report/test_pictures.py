"""Pictures are not empty, and no word in them is cut off or lies on another."""

import random
from fractions import Fraction
from itertools import combinations

import matplotlib
import pytest
from days import DAYS, day, told
from matplotlib.figure import Figure
from matplotlib.text import Text

from assistant.report import pictures
from assistant.report.contents import contents
from assistant.report.drawing import STYLE, label, new
from assistant.report.survey import Run


def words(figure: Figure) -> list[Text]:
    figure.draw_without_rendering()
    return [text for text in figure.findobj(Text) if text.get_visible() and text.get_text().strip()]


def troubles(figure: Figure) -> list[str]:
    """What is wrong with a picture: nothing drawn, words cut off, words over words."""
    found = []
    figure.draw_without_rendering()
    texts = [text for text in words(figure) if _in_axes_ticks(figure, text)]
    boxes = [(text.get_text(), text.get_window_extent()) for text in texts]
    drawn = [line for axes in figure.axes for line in (*axes.lines, *axes.collections, *axes.patches, *axes.containers)]
    if not drawn:
        found.append("nothing is drawn")
    for text, box in boxes:
        if not (
            figure.bbox.x0 <= box.x0
            and box.x1 <= figure.bbox.x1
            and figure.bbox.y0 <= box.y0
            and box.y1 <= figure.bbox.y1
        ):
            found.append(f"{text!r} is cut off")
    for (one, first), (other, second) in combinations(boxes, 2):
        if first.overlaps(second):
            found.append(f"{one!r} lies on {other!r}")
    return found


def _in_axes_ticks(figure: Figure, text: Text) -> bool:
    """Ticks outside the limits of an axis are made and not drawn."""
    for axes in figure.axes:
        for axis, at in ((axes.xaxis, 0), (axes.yaxis, 1)):
            low, high = sorted(axis.get_view_interval())
            for tick in axis.get_major_ticks():
                if text in (tick.label1, tick.label2):
                    return bool(low <= tick.get_loc() <= high and (text is tick.label1)) and at in (0, 1)
    return True


def drawn(run: Run, verdicts: list) -> list[Figure]:  # type: ignore[type-arg]
    with matplotlib.rc_context(STYLE):
        made = [pictures.profile(run), pictures.plan(run), pictures.tolerance(run, verdicts)]
    return [figure for figure in made if figure is not None]


@pytest.mark.parametrize("name", [path.stem for path in DAYS])
def test_the_pictures_of_a_day_are_sound(name: str) -> None:
    report = contents(day(name).rows(), name)
    figures = [figure for one in report.runs for figure in drawn(one.run, one.verdicts)]
    assert figures or name in ("loop", "posts")  # levels alone, and places that have no station
    assert [trouble for figure in figures for trouble in troubles(figure)] == []


def crowded(seed: int, count: int) -> list[str]:
    dice = random.Random(seed)
    told = ["rod in tenths", "baseline 4.00 at station zero", "confirm", "tolerance 0.02 feet", "confirm"]
    return [
        *told,
        *(f"reading {4 + dice.randrange(-40, 40) / 100:.2f} at {dice.randrange(1, 2000)}" for _ in range(count)),
    ]


@pytest.mark.parametrize(("seed", "count"), [(1, 2), (2, 60), (3, 300)])
def test_the_pictures_of_a_crowded_day_are_sound(seed: int, count: int) -> None:
    report = contents(told(crowded(seed, count)).rows(), "crowded")
    for one in report.runs:
        for figure in drawn(one.run, one.verdicts):
            assert troubles(figure) == []


def test_the_check_sees_what_is_wrong() -> None:
    figure, axes = new(2)
    assert "nothing is drawn" in troubles(figure)
    axes.plot([0, 1], [0, 1])
    assert troubles(figure) == []
    axes.text(0.5, 0.5, "one")
    axes.text(0.5, 0.5, "other")
    assert any("lies on" in trouble for trouble in troubles(figure))
    figure.text(0.99, 0.5, "far out to the right")
    assert any("cut off" in trouble for trouble in troubles(figure))


def test_labels_are_left_out_before_they_lie_on_another() -> None:
    figure, axes = new(3)
    axes.plot([0, 1], [0, 1])
    written = label(axes, [(0.5, 0.5, "the same place") for _ in range(9)])
    assert 1 < len(written) < 9
    assert troubles(figure) == []


def test_the_profile_shows_design_ground_and_both_sorts_of_dirt() -> None:
    report = contents(day("deep").rows(), "deep")
    (figure,) = [f for one in report.runs for f in [pictures.profile(one.run)] if f is not None][:1]
    names = {text.get_text() for text in words(figure)}
    assert {"dig to 0.5 ft below grade", "grade", "ground as found", "ground as left"} <= names
    assert {"cut: still to dig", "fill: too low"} <= names
    hatches = {c.get_hatch() for c in figure.axes[0].collections if c.get_hatch()}
    assert len(hatches) == 2


def test_design_and_ground_are_drawn_where_they_are() -> None:
    (one,) = contents(day("levels").rows(), "levels").runs
    run = one.run
    assert run.elevations
    assert run.design_at(Fraction(50)) == Fraction("98.5")
    assert [point.ground for point in run.left()] == [Fraction(x) for x in ("99.42", "98.71", "98.50", "98.25")]
    assert all(point.design == run.design_at(point.station) for point in run.left())
