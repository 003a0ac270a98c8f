"""Level notes, line by line, as published sets have them."""

from fractions import Fraction
from pathlib import Path
from typing import Any

import pytest
import yaml
from days import told

from assistant.book.entries import Entry
from assistant.book.store import Book
from assistant.report.amounts import figures
from assistant.report.contents import contents
from assistant.report.levels import LevelNotes, level_notes

SETS: list[dict[str, Any]] = yaml.safe_load((Path(__file__).parent / "level_notes.yaml").read_text())
UNITS = {"tenths": ("tenths of a foot", "ft", "feet"), "metres": ("metres", "m", "metres")}


def sentences(published: dict[str, Any]) -> list[str]:
    """The set as it is told: the last foresight closes where the end is known."""
    unit = UNITS[published["marking"]][2]
    (first, *rest), station = published["rows"], 0
    long = "the rod is 25 feet long" if unit == "feet" else "the rod is 9 metres long"
    said = [f"rod in {published['marking']}", long, f"benchmark {first[4]} {unit}", "confirm"]
    said += [f"backsight {first[0]} {unit}", "confirm"]
    for row in rest:
        backsight, _, intermediate, foresight, *_ = row
        last = row is rest[-1]
        if intermediate is not None:
            station += 1
            said.append(f"reading {intermediate} {unit} at station {station}")
        elif last and "known" in published:
            at = f"at elevation {published['known']} {unit} reading "
            said += [f"close on the benchmark {at}{foresight} {unit}", "confirm"]
        else:
            said += [f"foresight {foresight} {unit}", "confirm"]
        if backsight is not None:
            said += [f"backsight {backsight} {unit}", "confirm"]
    return said


def notes_of(published: dict[str, Any]) -> LevelNotes:
    if published["id"] == "L05":
        return _written(published)
    (notes,) = contents(told(sentences(published)).rows(), "levels").notes
    return notes


def _written(published: dict[str, Any]) -> LevelNotes:
    """An inverted staff reads below zero, which is not said; its entries are written as they are."""
    marking, unit, _ = UNITS[published["marking"]]
    book = Book.scratch()

    def length(amount: Fraction | str) -> dict[str, str]:
        return {"amount": str(Fraction(amount)), "marking": marking, "unit": unit, "step": "1/1000"}

    def write(kind: str, payload: dict[str, Any]) -> None:
        book.append([Entry(kind, payload)], heard=None, engine=None, audio=None, reply="")

    foot = Fraction(381, 1250)
    elevation = Fraction(published["rows"][0][4])
    write("benchmark", {"elevation": length(elevation), "number": None})
    instrument = elevation
    for backsight, _, intermediate, foresight, *_ in published["rows"]:
        if intermediate is not None:
            up = instrument - Fraction(intermediate)
            write("reading", {"reading": length(intermediate), "station": None, "elevation_ft": str(up / foot)})
        if foresight is not None:
            elevation = instrument - Fraction(foresight)
            write("foresight", {"reading": length(foresight), "elevation": length(elevation)})
        if backsight is not None:
            instrument = elevation + Fraction(backsight)
            write("backsight", {"reading": length(backsight), "height_of_instrument_ft": str(instrument / foot)})
    (notes,) = level_notes(book.rows())
    return notes


def shown(notes: LevelNotes, feet: Fraction | None, more: int = 0) -> str | None:
    amount = notes.amount(feet, "", more)
    return None if amount is None else amount.shown


def same(got: str | None, wanted: str | None) -> bool:
    """Equal as numbers: a set may be printed with fewer places than its notes."""
    return got is wanted if got is None or wanted is None else Fraction(got) == Fraction(wanted)


@pytest.mark.parametrize("published", SETS, ids=lambda one: one["id"])
def test_every_row_is_as_published(published: dict[str, Any]) -> None:
    notes = notes_of(published)
    assert len(notes.sights) == len(published["rows"])
    for sight, row in zip(notes.sights, published["rows"], strict=True):
        columns = (sight.backsight, sight.instrument, sight.intermediate, sight.foresight, sight.elevation)
        assert all(same(shown(notes, got), wanted) for got, wanted in zip(columns, row, strict=False)), (row, sight)
        if len(row) == 6:
            assert same(shown(notes, notes.adjusted(sight), 1), row[5]), (row, sight)


@pytest.mark.parametrize("published", SETS, ids=lambda one: one["id"])
def test_the_sums_are_as_published_and_check(published: dict[str, Any]) -> None:
    notes = notes_of(published)
    back, fore, difference = published["sums"]
    assert same(shown(notes, notes.backsights), back)
    assert same(shown(notes, notes.foresights), fore)
    assert same(shown(notes, notes.rise), difference)
    assert notes.checks
    assert same(shown(notes, notes.misclosure), published.get("misclosure"))


def test_a_wrong_elevation_does_not_check() -> None:
    notes = notes_of(SETS[0])
    notes.sights[-1].elevation += Fraction(1, 100)
    assert not notes.checks


@pytest.mark.parametrize(
    ("amount", "places", "text"),
    [("107.13", 2, "107.13"), ("-0.02", 2, "-0.02"), ("-0.002", 2, "0.00"), ("1/200", 2, "0.01"), ("3", 0, "3")],
)
def test_figures_are_rounded_half_up(amount: str, places: int, text: str) -> None:
    assert figures(Fraction(amount), places) == text


def test_a_miss_is_shared_out_by_distance_once_all_sights_are_told() -> None:
    run = ["rod in tenths", "benchmark 100", "confirm", "backsight 5.00", "confirm", "foresight 4.00", "confirm"]
    run += ["backsight 6.00", "confirm", "reading 2.00 at station 10", "foresight 3.00", "confirm"]
    run += ["backsight 2.00", "confirm", "close on the benchmark 6.03", "adjust by distance"]
    sights = ["to turning point one are 80 feet then 100 feet", "to turning point two are 50 feet then 70 feet"]
    some = [*run, *(f"the sights {each}" for each in sights)]
    (notes,) = contents(told(some).rows(), "levels").notes
    assert not notes.is_by_distance and notes.adjusted(notes.sights[-2]) == Fraction("104.02")
    (notes,) = contents(told([*some, "the sights are 150 feet then 150 feet"]).rows(), "levels").notes
    by_point = {sight.point: notes.adjusted(sight) for sight in notes.sights}
    assert notes.is_by_distance
    assert by_point["TP 1"] == Fraction("101.009") and by_point["TP 2"] == Fraction("104.015")
    assert by_point["BM, close"] == 100
