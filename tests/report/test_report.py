"""What the page says is what the fold of the book says, exactly."""

import io
import re
from fractions import Fraction
from html.parser import HTMLParser
from pathlib import Path

import pypdf
import pytest
from days import DAYS, day, told

from assistant import cli
from assistant.book.entries import Entry
from assistant.book.store import Book
from assistant.environment import Environment, ExitStatus
from assistant.grade.units import FOOT_IN_METRES
from assistant.job.state import Job
from assistant.report import page, parts
from assistant.report.amounts import figures
from assistant.report.contents import contents
from assistant.talk.session import Session
from grammar.quantities import Length, Marking
from grammar.spoken import show_length


class Numbers(HTMLParser):
    """Every exact number of a page by its name, with its unit and how it is shown."""

    def __init__(self, text: str) -> None:
        super().__init__()
        self.found: dict[str, tuple[Fraction, str, str]] = {}
        self._at: dict[str, str | None] | None = None
        self.feed(text)

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self._at = dict(attrs) if tag == "data" else None

    def handle_data(self, data: str) -> None:
        if self._at is not None:
            name = self._at["data-of"] or ""
            assert name not in self.found, name
            self.found[name] = (Fraction(self._at["value"] or ""), self._at["data-unit"] or "", data)
            self._at = None


STEPS = {Marking.INCHES: Fraction(1, 96), Marking.TENTHS: Fraction(1, 100), Marking.METRIC: Fraction(1, 1000)}


def expected(book: Book) -> dict[str, tuple[Fraction, str, str]]:
    """The numbers of the readings, from a fold of our own making."""
    job, numbers = Job(), {}
    for row in book.rows():
        job.apply(row)
        if row.kind != "reading":
            continue
        marking = job.marking
        assert marking is not None

        def shown(feet: Fraction, marking: Marking = marking) -> tuple[Fraction, str, str]:
            amount = feet * FOOT_IN_METRES if marking is Marking.METRIC else feet
            return amount, marking.unit, show_length(Length(amount, marking, STEPS[marking]))

        record = job.last_reading
        assert record is not None
        read = record.reading
        numbers[f"{row.sequence}.reading"] = (read.amount, read.marking.unit, show_length(read))
        if record.grade is not None:
            amount, unit, text = shown(record.grade.amount)
            kind = record.grade.kind
            text = kind if kind == "on grade" else f"{kind} {text}"
            numbers[f"{row.sequence}.grade"] = (amount, unit, text)
            numbers[f"{row.sequence}.grade_rod"] = shown(Fraction(row.payload["grade_rod_ft"]))
        hi = job.height_of_instrument()
        if hi is not None:
            feet = read.amount / FOOT_IN_METRES if read.marking is Marking.METRIC else read.amount
            numbers[f"{row.sequence}.elevation"] = shown(hi - feet)
    return numbers


@pytest.mark.parametrize("name", [path.stem for path in DAYS])
def test_the_numbers_of_the_page_are_those_of_the_fold(name: str) -> None:
    book = day(name)
    found = Numbers(page.html(book.rows(), name)).found
    of_readings = {key: value for key, value in found.items() if re.fullmatch(r"\d+\.\w+", key) and "cross" not in key}
    assert of_readings == expected(book)
    assert len(of_readings) >= 6 or name == "loop"


@pytest.mark.parametrize("name", [path.stem for path in DAYS])
def test_the_page_needs_nothing_else_and_is_the_same_again(name: str) -> None:
    book = day(name)
    text = page.html(book.rows(), name)
    assert not re.search(r"<script|<link|<img|@import|<iframe", text)
    addresses = re.findall(r"(?:href|src|xlink:href)=\"([^\"]*)\"|url\(([^)]*)\)", text)
    assert all((one or other).startswith("#") for one, other in addresses)
    names = re.findall(r'\bid="([^"]+)"', text)
    assert len(names) == len(set(names))
    assert page.html(book.rows(), name) == text


def test_the_drain_tells_all_that_happened() -> None:
    book = day("drain")
    report = contents(book.rows(), "drain")
    assert report.counts == {
        "readings": 11, "on grade": 5, "to cut": 5, "to fill": 1, "without a grade": 0, "unproven": 5, "taken back": 1,
    }  # fmt: skip
    (correction,) = report.corrections
    assert (correction.taken.sequence, correction.by) == (21, 22)
    assert correction.successor is not None and correction.successor.sequence == 23
    assert [exchange.outcome for exchange in report.exchanges] == [f"written, entry {n}" for n in (4, 6, 8, 10)]
    (run,) = report.runs
    assert [verdict.verdict for verdict in run.verdicts] == ["within"] * 4 + ["out, but not surely", "within"]
    *_, last = book.rows()
    text = page.html(book.rows(), "drain")
    assert last.hash in text
    assert report.code in text
    assert text.count("unproven</b>") == 5
    assert "<del>4 ft 11 1/4 in at 0+60. On grade.</del>" in text


def test_a_deep_dig_is_under_safety() -> None:
    cautions = [text for _, _, text in contents(day("deep").rows(), "deep").cautions]
    assert any(text.startswith("Take care: a dig of five feet") for text in cautions)


def test_areas_are_the_trapezoids_between_readings() -> None:
    """By hand: a level line, 10 ft apart, 0.2 ft high then 0.1 ft low: 10 x 2/3 x 0.1 cut and 10 x 1/3 x 0.05 fill."""
    book = told(
        ["rod in tenths", "baseline 4.00 at station zero", "confirm", "reading 3.80 at 10", "reading 4.10 at 20"]
    )
    (run,) = contents(book.rows(), "x").runs
    (earth,) = run.earth
    assert (earth.cut.exact, earth.fill.exact) == (Fraction(2, 3), Fraction(1, 6))
    assert earth.cut_yards.exact == Fraction(2, 81)


def test_the_cross_table_is_by_station_and_offset() -> None:
    (run,) = contents(day("road").rows(), "road").runs
    assert run.cross is not None
    assert run.cross.offsets == ["12.00 ft left", "6.00 ft left", "on the line", "6.00 ft right", "12.00 ft right"]
    assert [station for station, _ in run.cross.rows] == ["0+00", "0+10", "0+20", "0+30", "0+40"]
    by_entry = {row.sequence: row for row in day("road").rows()}
    cells = [cell for _, row in run.cross.rows for cell in row if cell is not None]
    assert len(cells) == 25
    for word, amount in cells:
        grade = by_entry[int(amount.of.split(".")[0])].payload["grade"]
        assert amount.exact == Fraction(grade["amount_ft"])
        assert word == grade["kind"] or grade["kind"] == "on grade"


def test_areas_are_parted_where_the_design_bends_and_drops() -> None:
    """By hand: level ground on grade at 0; design level to 10, falling 1 % to 20, 0.2 lower there, level to 30.

    Ground over design: 0 to 10: none; 10 to 20: 0 to 0.1, 0.5 sq ft; 20 to 30: 0.3, 3 sq ft.
    """
    lines = ["rod in tenths", "baseline 4.00 at station zero", "confirm", "level line from station zero", "confirm",
             "bend at station ten falling one percent", "confirm", "bend at station twenty level", "confirm",
             "drop two tenths at station twenty", "confirm", "reading 4.00 at zero"]  # fmt: skip
    for readings in (["reading 4.00 at 30"], ["reading 4.00 at 20", "reading 4.00 at 30"]):
        (run,) = contents(told([*lines, *readings]).rows(), "x").runs
        (earth,) = run.earth
        assert (earth.cut.exact, earth.fill.exact) == (Fraction("3.5"), 0)


def test_the_volume_is_what_is_answered_aloud() -> None:
    """ "How much dirt", asked of the same book."""
    with day("yard") as book:
        runs = contents(book.rows(), "yard").runs
        (volume,) = (run.volume for run in runs if run.volume is not None)
        reply = Session(book).utterance(["how much dirt"]).reply.shown
    assert f"cut {figures(volume.cut.exact, 1)}" in reply.lower()
    assert volume.cut.exact > 0


def test_a_question_that_is_dismissed_or_open_is_told() -> None:
    book = told(["rod in tenths", "benchmark 100", "never mind", "benchmark 101"])
    outcomes = [exchange.outcome for exchange in contents(book.rows(), "x").exchanges]
    assert outcomes == ["nothing was written", "still open: nothing was written"]


def test_an_empty_book_has_a_page() -> None:
    assert "no entry yet" in page.html([], "empty")


def test_words_of_a_person_are_no_markup() -> None:
    with Book.scratch() as book:
        book.append([Entry("opened", {})], heard="<b>", engine=None, audio=None, reply="")
        text = page.html(book.rows(), "<script>alert(1)</script>")
    assert "<script" not in text


def test_what_a_kind_is_not_told_of_stands_among_the_rest(monkeypatch: pytest.MonkeyPatch) -> None:
    from assistant.report import contents as module

    placed = module._placed()
    kept = {name: {**group, "kinds": [k for k in group["kinds"] if k != "accuracy"]} for name, group in placed.items()}
    monkeypatch.setattr(module, "_placed", lambda: kept)
    sections = {section.title: section for section in contents(day("drain").rows(), "x").sections}
    assert [line.kind for line, _ in sections["Also written"].lines] == ["accuracy"]


@pytest.mark.parametrize("ending", [".html", ".pdf"])
def test_the_command_writes_a_page(tmp_path: Path, ending: str) -> None:
    book = tmp_path / "drain.rodside"
    day("drain", book).close()
    output = tmp_path / f"drain{ending}"
    world = Environment(stdout=io.StringIO(), stderr=io.StringIO())
    status = cli.main(["report", str(book), "-o", str(output), "--paper", "A4"], world)
    if "Pango" in world.stderr.getvalue():  # type: ignore[attr-defined]
        pytest.skip("the Pango library is not installed")
    assert status == ExitStatus.OK
    assert output.read_bytes().startswith(b"%PDF-" if ending == ".pdf" else b"<!doctype html>")
    assert sorted(path.name for path in tmp_path.iterdir()) == sorted([book.name, output.name])
    if ending == ".pdf":
        pages = pypdf.PdfReader(output).pages
        assert [round(float(side)) for side in pages[0].mediabox[2:]] == [595, 842]
        text = " ".join(one.extract_text() for one in pages)
        assert "4 ft 11 3/8 in" in text
        assert "Asked and answered" in text


@pytest.mark.parametrize("command", [["report"], ["book"], ["export", "--format", "landxml"]])
def test_a_kind_of_a_newer_version_is_told(tmp_path: Path, command: list[str]) -> None:
    path = tmp_path / "newer.rodside"
    with Book.open(path) as book:
        book.append([Entry("hovercraft", {})], heard=None, engine=None, audio=None, reply="")
    world = Environment(stdout=io.StringIO(), stderr=io.StringIO())
    assert cli.main([*command, str(path)], world) == ExitStatus.BOOK
    assert "does not know (hovercraft)" in world.stderr.getvalue()  # type: ignore[attr-defined]


def test_another_ending_and_a_place_that_cannot_be_written_are_refused(tmp_path: Path) -> None:
    book = tmp_path / "drain.rodside"
    day("drain", book).close()
    world = Environment(stdout=io.StringIO(), stderr=io.StringIO())
    assert cli.main(["report", str(book), "-o", str(tmp_path / "x.doc")], world) == ExitStatus.USAGE
    assert cli.main(["report", str(book), "-o", str(tmp_path / "no" / "x.html")], world) == ExitStatus.BOOK


def test_a_long_job_has_several_pages_that_together_hold_what_one_would(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    path = tmp_path / "job.rodside"
    told(
        ["rod in tenths", "benchmark number one at one hundred", "confirm", "backsight 4.25 on benchmark number one"]
        + ["confirm", "line from station zero at elevation 99 falling 1 percent", "confirm"]
        + [words for n in range(10, 60) for words in (f"reading 5.{n} at station {n}", "scratch that")[: 2 - n % 3 % 2]]
        + ["foresight 4.25", "confirm", "backsight 4.25", "confirm", "close on the benchmark 4.25"],
        path,
    ).close()
    world = Environment(stdout=io.StringIO(), stderr=io.StringIO())
    assert cli.main(["report", str(path), "-o", str(tmp_path / "one.html")], world) == 0
    monkeypatch.setattr(parts, "MOST", 9000)
    assert cli.main(["report", str(path), "-o", str(tmp_path / "many.html")], world) == 0
    pages = sorted(tmp_path.glob("many*.html"), key=lambda page: (len(page.name), page.name))
    assert len(pages) > 3
    whole = (tmp_path / "one.html").read_text("utf-8")
    texts = [page.read_text("utf-8") for page in pages]
    for pattern in (r'data-of="[^"]+"', r'<li><span class="n">.*'):
        found = re.findall(pattern, whole)
        assert found and sorted(found) == sorted(match for text in texts for match in re.findall(pattern, text))
    frame = len(texts[-1].encode()) - len(re.findall(r"<section.*</section>\n\n", texts[-1], re.DOTALL)[0].encode())
    assert all(len(text.encode()) - frame <= 9000 or "<svg" in text for text in texts)
    assert re.findall(r'href="(many[^"]*)"', texts[0])[:2] == [pages[1].name, pages[-1].name]
    assert "Page 1 of" not in whole
