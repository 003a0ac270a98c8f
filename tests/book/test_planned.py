"""Plans from files: exact, whole or not at all, and refused with line, column and what was expected."""

import io
import random
import re
from fractions import Fraction
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from assistant import cli
from assistant.book.errors import BadFile, BookError
from assistant.book.planned import planned
from assistant.book.store import Book
from assistant.environment import Environment, ExitStatus
from assistant.job import expect
from assistant.job.state import Job
from assistant.talk.session import Session
from grammar.meanings import Benchmark, Bend, DesignLine, Drop
from grammar.quantities import Length, Marking, Station

PROFILE = (
    "station,elevation,unit\r\n0+00,100.00,ft\r\n0+50,99.00,ft\r\n1+50,98.50,ft\r\n1+50,98.30,ft\r\n2+00,98.30,ft\r\n"
)
POINTS = "number,elevation,unit\r\n1,100.00,ft\r\n2,4001/40,ft\r\n"
SLOPES = "station,elevation,slope_percent,unit\r\n0,30.5,-1.25,m\r\n20,,0,m\r\n"


def read(text: str) -> list[object]:
    return list(planned(io.StringIO(text, newline="")))


def test_points_are_benchmarks() -> None:
    first, second = read(POINTS)
    assert isinstance(first, Benchmark) and isinstance(second, Benchmark)
    assert (first.number, first.elevation.amount) == (1, 100)
    assert (second.number, second.elevation.amount) == (2, Fraction(4001, 40))


def test_a_profile_is_a_line_with_bends_and_drops() -> None:
    kinds = [type(part) for part in read(PROFILE)]
    assert kinds == [DesignLine, Bend, Drop, Bend]
    assert [type(part) for part in read(SLOPES)] == [DesignLine, Bend]


def world(stdin: str = "") -> Environment:
    return Environment(stdin=io.StringIO(stdin), stdout=io.StringIO(), stderr=io.StringIO())


def book_with_a_rod(path: Path) -> Path:
    with Book.open(path) as book:
        session = Session(book)
        session.utterance(["rod in tenths"])
    return path


def test_the_line_of_a_profile_goes_through_its_stations(tmp_path: Path) -> None:
    """Grade rods under an instrument at 104.00: 104 less each elevation; at the drop, before it."""
    path = book_with_a_rod(tmp_path / "day.rodside")
    plan = tmp_path / "plan.csv"
    plan.write_text(PROFILE)
    assert cli.main(["import", str(path), str(plan), "--confirm"], world()) == ExitStatus.OK
    with Book.open(path) as book:
        session = Session(book)
        for words in ("benchmark 100", "confirm", "backsight 4.00", "confirm"):
            session.utterance([words])
        job = Job.folded(book.rows())
        rows = list(book.rows())
    rods = {
        at: expect.grade_rod(job, Station(Length(Fraction(at), Marking.TENTHS, Fraction(1))))
        for at in (0, 50, 150, 200)
    }
    assert rods == {0: 4, 50: 5, 150: Fraction("5.5"), 200: Fraction("5.7")}
    assert [row.heard for row in rows if row.engine == "import"] == ["plan.csv"] * 4


def test_a_slope_without_an_end_in_decimals_is_told_as_about(tmp_path: Path) -> None:
    path, plan, said = book_with_a_rod(tmp_path / "day.rodside"), tmp_path / "plan.csv", io.StringIO()
    plan.write_text("station,elevation,unit\n0,100,ft\n150,95,ft\n")
    world_ = Environment(stdout=said)
    assert cli.main(["import", str(path), str(plan), "--confirm"], world_) == ExitStatus.OK
    assert said.getvalue() == "Line from 0+00, elevation 100 ft, falling about 3.33 %.\n"


@given(
    st.lists(st.tuples(st.integers(1, 500), st.fractions(0, 500, max_denominator=1000)), min_size=2, max_size=8),
    st.sampled_from(["ft", "m"]),
)
def test_any_profile_is_met_exactly(steps: list[tuple[int, Fraction]], unit: str) -> None:
    station, text, elevations = 0, "station,elevation,unit\n", {}
    for run, elevation in steps:
        station += run
        elevations[station] = elevation
        text += f"{station},{elevation},{unit}\n"
    job, start = Job(), steps[0][1]
    height, at, slope = start, steps[0][0], Fraction(0)
    for part in read(text):
        assert isinstance(part, DesignLine | Bend)
        place = part.start if isinstance(part, DesignLine) else part.station
        height += slope * (place.distance.amount - at)
        assert height == elevations[int(place.distance.amount)]
        at, slope = int(place.distance.amount), expect.signed_slope(part.slope, part.direction)
    assert height + slope * (station - at) == elevations[station]
    assert job.line is None


BAD = [
    ("", "line 1"),
    ("a,b\n1,2\n", "line 1: expected number,elevation,unit or"),
    ("number,elevation,unit\n", "line 2"),
    ("number,elevation,unit\n1,ten,ft\n", "line 2, column elevation: .* such as 12.5 or 25/2, found 'ten'"),
    ("number,elevation,unit\n1,10,ft\n1,11,ft\n", "line 3, column number: expected each number once"),
    ("number,elevation,unit\n0,10,ft\n", "line 2, column number"),
    ("number,elevation,unit\n1.5,10,ft\n", "line 2, column number"),
    ("number,elevation,unit\n1,10,yd\n", "line 2, column unit: expected ft or m, found 'yd'"),
    ("number,elevation,unit\n1,10\n", "line 2: expected 3 columns, found '2: 1,10'"),
    ("number,elevation,unit\n1,1e3,ft\n", "line 2, column elevation"),
    ("number,elevation,unit\n1,1/0,ft\n", "line 2, column elevation"),
    ("number,elevation,unit\n1,\u0663,ft\n", "line 2, column elevation"),
    ('number,elevation,unit\n1,"10,ft\n', "line 2: expected CSV"),
    ("station,elevation,unit\n0,10,ft\n", "line 3: expected a second station"),
    ("station,elevation,unit\n5,10,ft\n0,10,ft\n", "line 3, column station: expected a station further on"),
    ("station,elevation,unit\n0,10,ft\n5,10,m\n", "line 3, column unit"),
    ("station,elevation,unit\n0,10,ft\n0,9,ft\n", "line 3, column elevation"),
    ("station,elevation,unit\n0,10,ft\n5,9,ft\n5,9.5,ft\n", "line 4, column elevation"),
    ("station,elevation,unit\n0+00,10,m\n5,9,m\n", "line 2, column station"),
    ("station,elevation,unit\n-5,10,ft\n5,9,ft\n", "line 2, column station"),
    ("station,elevation,slope_percent,unit\n0,10,-1,ft\n9,9,0,ft\n", "line 3, column elevation: expected none"),
    ("station,elevation,slope_percent,unit\n0,,-1,ft\n", "line 2, column elevation: .*found nothing"),
]  # fmt: skip


@pytest.mark.parametrize(("text", "said"), BAD)
def test_a_bad_file_is_refused_where_it_is_bad(text: str, said: str) -> None:
    with pytest.raises(BadFile, match=f"^{said.replace('+', '.')}"):
        read(text)


@pytest.mark.parametrize("text", [PROFILE, POINTS, SLOPES])
def test_three_hundred_spoiled_plans_are_refused_or_read_as_they_stand(text: str) -> None:
    dice = random.Random(5)
    refused = 0
    for _ in range(300):
        at = dice.randrange(len(text))
        bad = text[:at] + dice.choice(["x", '"', ",", "/", "+", "\0", "\n"]) + text[at + dice.choice([0, 1]) :]
        try:
            read(bad)
        except BookError as trouble:
            refused += 1
            assert re.match(r"line \d+", str(trouble))
    assert refused > 200


def test_nothing_is_half_taken_in(tmp_path: Path) -> None:
    path = book_with_a_rod(tmp_path / "day.rodside")
    plan = tmp_path / "plan.csv"
    for content in (b"station,elevation,unit\n0,10,ft\n9,x,ft\n", b"number,elevation,unit\n1,10,ft\n\xff"):
        plan.write_bytes(content)
        outside = world()
        assert cli.main(["import", str(path), str(plan), "--confirm"], outside) == ExitStatus.BOOK
        assert re.search(r"plan\.csv, line 3", outside.stderr.getvalue())  # type: ignore[attr-defined]
    with Book.open(path) as book:
        assert len(list(book.rows())) == 1


@pytest.mark.parametrize(("answer", "status", "written"), [("confirm\n", 0, 3), ("no\n", 1, 1), ("", 1, 1)])
def test_a_plan_is_read_back_and_waits_for_confirm(tmp_path: Path, answer: str, status: int, written: int) -> None:
    path = book_with_a_rod(tmp_path / "day.rodside")
    plan = tmp_path / "points.csv"
    plan.write_text(POINTS)
    outside = world(answer)
    assert cli.main(["import", str(path), str(plan)], outside) == status
    assert "Benchmark number 1, 100 ft." in outside.stdout.getvalue()  # type: ignore[attr-defined]
    with Book.open(path) as book:
        assert len(list(book.rows())) == written


def test_a_book_without_a_rod_or_with_a_question_takes_no_plan(tmp_path: Path) -> None:
    plan = tmp_path / "points.csv"
    plan.write_text(POINTS)
    path = tmp_path / "day.rodside"
    assert cli.main(["import", str(path), str(plan), "--confirm"], world()) == ExitStatus.BOOK
    with Book.open(path) as book:
        for words in ("rod in tenths", "benchmark 100"):
            Session(book).utterance([words])
    assert cli.main(["import", str(path), str(plan), "--confirm"], world()) == ExitStatus.BOOK


@pytest.mark.parametrize("ending", ["csv", "jsonl"])
def test_an_exported_book_is_taken_into_a_new_one(tmp_path: Path, ending: str) -> None:
    path = book_with_a_rod(tmp_path / "day.rodside")
    file, copy = tmp_path / f"day.{ending}", tmp_path / "copy.rodside"
    assert cli.main(["export", str(path), "-o", str(file)], world()) == ExitStatus.OK
    assert cli.main(["import", str(copy), str(file)], world()) == ExitStatus.OK
    with Book.open(path) as one, Book.open(copy) as other:
        assert list(one.rows()) == list(other.rows())
    file.write_text(file.read_text().replace("tenths", "inches"))
    third = tmp_path / "third.rodside"
    assert cli.main(["import", str(third), str(file)], world()) == ExitStatus.BOOK
    assert not third.exists()
