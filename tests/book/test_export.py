"""An export loses nothing, and what a spreadsheet shows is what was written."""

import csv
import os
import random
import re
from fractions import Fraction
from io import StringIO
from pathlib import Path

import pytest
from books import clock, write
from hypothesis import given, settings
from hypothesis import strategies as st

from assistant.book.entries import Entry, Row
from assistant.book.errors import BadFile, BookError
from assistant.book.export import CSV_COLUMNS, from_csv, from_jsonl, to_csv, to_jsonl
from assistant.book.store import Book
from assistant.book.verify import findings

exact = st.fractions().map(str)
words = st.text(max_size=9).filter(lambda text: not any(letter.isdigit() for letter in text))
leaves = st.none() | st.booleans() | st.integers() | exact | words
payloads = st.dictionaries(
    st.text(max_size=5) | st.sampled_from(["reading", "station", "grade", "elevation_ft"]),
    st.recursive(leaves, lambda inner: st.lists(inner, max_size=3) | st.dictionaries(st.text(max_size=5), inner)),
    max_size=4,
)
texts = st.text(max_size=20) | st.text(alphabet="=+-@'\t\r\n\",\0\u2028½", max_size=5)
utterances = st.tuples(
    st.lists(st.builds(Entry, st.text(max_size=9), payloads), max_size=3),
    st.none() | texts,
    st.none() | texts,
    st.none() | texts,
    texts,
)


@settings(max_examples=200, deadline=None)
@given(st.lists(utterances, max_size=4))
def test_lines_and_tables_lose_nothing(said: list[tuple[list[Entry], str | None, str | None, str | None, str]]) -> None:
    with Book.scratch(clock) as book:
        for entries, heard, engine, audio, reply in said:
            book.append(entries, heard=heard, engine=engine, audio=audio, reply=reply)
        rows = list(book.rows())
    assert list(findings(rows)) == []
    for there, back in ((to_jsonl, from_jsonl), (to_csv, from_csv)):
        stream = StringIO(newline="")
        there(rows, stream)
        stream.getvalue().encode("utf-8")
        stream.seek(0)
        assert list(back(stream)) == rows


def table(payload: dict[str, object], **said: str) -> dict[str, str]:
    with Book.scratch(clock) as book:
        texts = {"heard": None, "engine": None, "audio": None, "reply": "", **said}
        book.append([Entry("reading", payload)], **texts)  # type: ignore[arg-type]
        stream = StringIO(newline="")
        to_csv(book.rows(), stream)
    stream.seek(0)
    (line,) = csv.DictReader(stream)
    assert tuple(line) == CSV_COLUMNS
    return line


@pytest.mark.parametrize(
    ("amount", "cell"),
    [("15/4", "3.75"), ("9/2", "4.5"), ("-1/8", "-0.125"), ("10/3", "3.333333"), ("2/3", "0.666667"), ("40", "40"),
     ("100", "100"), ("0", "0"), ("-1/3000000", "0"), ("1/2000000", "0.000001"), ("=1+1", "'=1+1")],
)  # fmt: skip
def test_an_amount_is_a_decimal_that_no_spreadsheet_takes_for_a_date(amount: str, cell: str) -> None:
    line = table({"reading": {"amount": amount, "unit": "ft"}, "elevation_ft": amount})
    assert line["reading"] == line["elevation_ft"] == cell
    assert line["unit"] == "ft"
    assert f'"amount":"{amount}"' in line["payload"]


@given(st.fractions())
def test_a_decimal_is_within_half_a_millionth(amount: Fraction) -> None:
    cell = Fraction(table({"elevation_ft": str(amount)})["elevation_ft"])
    assert abs(cell - amount) <= Fraction(1, 2 * 10**6)


@pytest.mark.parametrize("text", ["=1+1", "+1", "-1", "@x", "\tx", "\rx", "'x", "\nx", " =1", "\u00a0=1", "＝1"])
def test_no_text_is_a_formula(text: str) -> None:
    line = table({}, heard=text, engine=text, audio=text, reply=text)
    assert {line[name] for name in ("heard", "engine", "audio", "reply")} == {f"'{text}"}


def test_lines_end_as_the_standard_says(path: Path) -> None:
    """RFC 4180, section 2: CRLF after each record, the header among them; fields with a quote are quoted."""
    with Book.open(path, clock) as book:
        write(book, 3)
        stream = StringIO(newline="")
        to_csv(book.rows(), stream)
    text = stream.getvalue()
    assert text.count("\r\n") == text.count("\n") == 4
    assert text.splitlines()[0] == ",".join(CSV_COLUMNS)
    assert '"{""reading"":""0/12"",""station"":null}"' in text


@pytest.mark.parametrize(
    "spoil",
    [
        lambda line: "",
        lambda line: line[:-5],
        lambda line: "[1]",
        lambda line: "null",
        lambda line: line.replace('"reply"', '"answer"'),
        lambda line: line.replace('"sequence": 2', '"sequence": "2"'),
        lambda line: line.replace('"reply": "ok"', '"reply": null'),
        lambda line: line.replace('"1/12"', "0.5"),
        lambda line: line.replace('"1/12"', "NaN"),
        lambda line: "[" * 100_000,
    ],
)
def test_a_line_that_is_no_entry_is_named(spoil) -> None:  # type: ignore[no-untyped-def]
    with Book.scratch(clock) as book:
        write(book, 2)
        stream = StringIO()
        to_jsonl(book.rows(), stream)
    first, second = stream.getvalue().splitlines()
    got: list[Row] = []
    with pytest.raises(BadFile, match=r"^line 2"):
        got.extend(from_jsonl([first, spoil(second) + "\n"]))


@pytest.mark.parametrize(
    "text", ["", "a,b\r\n", ",".join(CSV_COLUMNS) + "\r\n1,2\r\n", ",".join(CSV_COLUMNS) + '\r\n"']
)
def test_a_table_that_is_no_export_is_refused(text: str) -> None:
    with pytest.raises(BadFile, match=r"^line [12]"):
        list(from_csv(StringIO(text, newline="")))


def text_of(rows: list[Row], ending: str) -> str:
    stream = StringIO(newline="")
    (to_csv if ending == "csv" else to_jsonl)(rows, stream)
    return stream.getvalue()


@settings(max_examples=int(os.environ.get("RODSIDE_BOOKS", "100")), deadline=None)
@given(st.lists(utterances, max_size=4))
def test_a_book_restored_from_a_file_is_the_same_book(
    said: list[tuple[list[Entry], str | None, str | None, str | None, str]],
) -> None:
    with Book.scratch(clock) as book:
        for entries, heard, engine, audio, reply in said:
            book.append(entries, heard=heard, engine=engine, audio=audio, reply=reply)
        rows = list(book.rows())
    for ending, back in (("csv", from_csv), ("jsonl", from_jsonl)):
        with Book.scratch(clock) as again:
            again.restore(back(StringIO(text_of(rows, ending), newline="")))
            assert list(again.rows()) == rows


def test_a_changed_or_shortened_export_is_not_restored() -> None:
    with Book.scratch(clock) as book:
        write(book, 5)
        rows = list(book.rows())
    changed = [*rows[:2], rows[2]._replace(reply="other"), *rows[3:]]
    for bad, entry in ((changed, "entry 3 was changed"), ([*rows[:2], *rows[3:]], "entry 3 is missing")):
        with Book.scratch(clock) as again:
            with pytest.raises(BookError, match=entry):
                again.restore(bad)
            assert list(again.rows()) == []


def test_a_book_with_entries_takes_no_others() -> None:
    with Book.scratch(clock) as book:
        write(book, 2)
        rows = list(book.rows())
        with pytest.raises(BookError, match="has entries already"):
            book.restore(rows)
        assert list(book.rows()) == rows


def spoiled(text: str, seed: int) -> str:
    """A character taken out, put in or changed, somewhere."""
    dice = random.Random(seed)
    at = dice.randrange(len(text))
    new = dice.choice(["", "x", '"', "\\", ",", "\r", "{", "7"])
    return text[:at] + new + text[at + dice.choice([0, 1]) :]


@pytest.mark.parametrize("ending", ["csv", "jsonl"])
def test_three_hundred_spoiled_exports_are_refused_with_a_line_or_an_entry(ending: str) -> None:
    with Book.scratch(clock) as book:
        write(book, 4)
        rows = list(book.rows())
    text = text_of(rows, ending)
    refused = 0
    for seed in range(330):
        bad = spoiled(text, seed)
        back = from_csv if ending == "csv" else from_jsonl
        with Book.scratch(clock) as again:
            try:
                again.restore(back(StringIO(bad, newline="")))
            except BookError as trouble:
                refused += 1
                assert re.match(r"line \d+|what follows is damaged \((entry|entries) \d", str(trouble)), trouble
                assert list(again.rows()) == []
            else:
                assert list(again.rows()) == rows, bad
    assert refused > 300
