"""Reports of long jobs: as many pages and pictures as can be shown, and nothing left out of the tables."""

import io
import random
import re
from collections.abc import Iterator
from fractions import Fraction
from pathlib import Path

import pytest
from days import told

from assistant import cli
from assistant.book.entries import Row
from assistant.commands import report as command
from assistant.environment import Environment
from assistant.job.state import Job
from assistant.report import contents, page, parts, pictures
from assistant.report.drawing import COLUMNS, styled, svg
from assistant.report.earth import cross_of
from assistant.report.lines import held
from assistant.report.survey import Point, Run
from grammar.quantities import Marking

DESIGNS = [
    "rod in tenths", "baseline 4.00 at station zero", "confirm", "tolerance 0.02 feet", "confirm",
    *(words for n in range(1, 7) for words in (f"line from station zero falling 0.{n} percent", "confirm",
      "reading 4.12 at 10", "reading 4.17 at 20", "reading 4.16 at 30")),
]  # fmt: skip
AMOUNT = re.compile(r'<data value="([^"]+)" data-unit="([^"]*)" data-of="([^"]+)">([^<]*)</data>')


def surveyed(points: list[Point]) -> Run:
    return Run(Marking.TENTHS, False, "Against the level of the baseline", Job(), points)


def point(entry: int, station: int, offset: int, high: Fraction, *, proven: bool = True) -> Point:
    return Point(entry, Fraction(station, 10), Fraction(offset), high, high, Fraction(1, 200), proven)


def test_the_last_designs_have_pictures_and_all_have_their_figures(monkeypatch: pytest.MonkeyPatch) -> None:
    rows = list(told(DESIGNS).rows())
    whole = page.html(rows, "x")
    monkeypatch.setattr(contents, "PICTURED", 2)
    some = page.html(rows, "x")
    assert (whole.count("<svg"), some.count("<svg")) == (12, 4)
    assert AMOUNT.findall(whole) == AMOUNT.findall(some)
    assert re.findall("<h2>.*</h2>", whole) == re.findall("<h2>.*</h2>", some)
    assert "<h2>6. Along the line" in some
    assert some.count("places as left: ") == 4
    assert "places as left: " not in whole
    assert [one.pictured for one in contents.contents(rows, "x").runs] == [False] * 4 + [True] * 2


def test_a_page_is_drawn_before_the_rest_of_the_book_is_read(monkeypatch: pytest.MonkeyPatch) -> None:
    every = list(told([*DESIGNS, *(f"reading 4.20 at {n}" for n in range(40, 140))]).rows())
    met = 0

    def rows(*kinds: str) -> Iterator[Row]:
        nonlocal met
        for row in held(every)(*kinds):
            if kinds == ("rod", "reading"):
                met = row.sequence
            yield row

    monkeypatch.setattr(parts, "MOST", 8000)
    monkeypatch.setattr(contents, "PICTURED", 0)
    reached = [met for _ in page.bodies(contents.told(rows, "x"))]
    assert len(reached) > 4
    last = max(row.sequence for row in every if row.kind == "reading")
    assert reached[0] < last
    assert reached[-1] == last


def test_numbers_of_level_notes_go_on_from_page_to_page(monkeypatch: pytest.MonkeyPatch) -> None:
    loop = ["backsight 4.25", "confirm", "foresight 4.25", "confirm", "backsight 4.25", "confirm",
            "close on the benchmark 4.25", "confirm"]  # fmt: skip
    words = ["rod in tenths", *(w for _ in range(5) for w in ("benchmark at one hundred", "confirm", *loop))]
    rows = list(told(words).rows())
    monkeypatch.setattr(parts, "MOST", 3000)
    texts = list(page.bodies(contents.told(held(rows), "x")))
    assert len(texts) > 2
    assert re.findall(r"<h2>Level notes (\d), ft", "".join(texts)) == ["1", "2", "3", "4", "5"]
    named = [name for _, _, name, _ in AMOUNT.findall("".join(texts))]
    assert len(named) == len(set(named))


def test_progress_is_told_of_long_work_only(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    path = tmp_path / "job.rodside"
    told(DESIGNS, path).close()
    for most, lines in ((10_000, 0), (10, 2)):
        monkeypatch.setattr(command, "LONG", most)
        world = Environment(stdout=io.StringIO(), stderr=io.StringIO())
        assert cli.main(["report", str(path), "-o", str(tmp_path / "x.html")], world) == 0
        assert world.stderr.getvalue().count("\n") == lines  # type: ignore[attr-defined]


def test_a_picture_of_very_many_places_is_as_large_as_can_be_seen() -> None:
    dice = random.Random(4)
    heights = [Fraction(dice.randrange(-40, 40), 100) for _ in range(20_000)]
    points = [point(n, n, 0, high, proven=n != 7_001) for n, high in enumerate(heights)]
    points[5_003] = point(5_003, 5_003, 0, Fraction(3))
    kept = pictures._seen(points)
    assert len(kept) <= 8 * (COLUMNS + 1)
    assert {0, 5_003, 7_001, 19_999} <= {one.entry for one in kept}
    assert pictures._seen(points[:2000]) == points[:2000]
    with styled():
        figure = pictures.profile(surveyed(points))
        assert figure is not None
        assert len(svg(figure, "x", "x")) < 1_000_000


def test_a_plan_of_very_many_places_shows_the_farthest_off_and_what_is_unproven() -> None:
    dice = random.Random(5)
    points = [
        point(n, dice.randrange(1000), dice.randrange(-50, 50), Fraction(dice.randrange(-40, 40), 100), proven=n != 77)
        for n in range(5_000)
    ]
    points[9] = point(9, 500, 3, Fraction(-9))
    kept = pictures._apart(points)
    assert len(kept) <= 2 * 25 * 25
    assert {9, 77} <= {one.entry for one in kept}


def test_a_table_across_the_line_does_not_grow_with_the_square_of_places_that_lie_anyhow() -> None:
    anyhow = surveyed([point(n, 7 * n, n * n % 1009, Fraction(n, 100)) for n in range(400)])
    assert cross_of(anyhow) is None
    grid = surveyed([point(n, n // 10, n % 10, Fraction(n, 100)) for n in range(30_000)])
    table = cross_of(grid)
    assert table is not None
    assert len(table.rows) == 3000
    pieces = list(parts._in_pieces(table))
    assert len(pieces) > 1
    assert [row for piece in pieces for row in piece] == table.rows
