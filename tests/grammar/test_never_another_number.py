"""Numbers written or said in every usual form are never understood as another.

The numbers are told here by arithmetic of our own. A bare form may be asked back (a `Miss`);
what it may not do is come out as a number that was not said.
"""

from __future__ import annotations

from collections.abc import Iterator
from fractions import Fraction
from math import gcd

import pytest
from numerals import ONES, digits, words

from grammar.meanings import AskGradeRod, Meaning, Miss, Reading
from grammar.quantities import Marking
from grammar.understand import Context, understand

PARTS = {2: "half", 4: "quarter", 8: "eighth", 16: "sixteenth"}


def sixteenths() -> Iterator[tuple[int, int, int, int]]:
    """Feet, inches, and a part in lowest terms, below 25 feet; 0 over 1 where there is no part."""
    for feet in range(25):
        for inches in range(12):
            for part in range(16):
                common = gcd(part, 16)
                yield feet, inches, part // common, 16 // common


def fraction_words(over: int, under: int) -> str:
    return f"{ONES[over]} {PARTS[under]}{'s' if over > 1 else ''}"


WRITTEN = {
    "signs": lambda f, i, n, d: f"{f}'{i} {n}/{d}\"" if n else f"{f}'{i}\"",
    "signs and spaces": lambda f, i, n, d: f"{f}' {i} {n}/{d} \"" if n else f"{f}' {i} \"",
    "signs and a dash": lambda f, i, n, d: f"{f}'-{i} {n}/{d}\"" if n else f"{f}'-{i}\"",
    "a dash": lambda f, i, n, d: f"{f}-{i} {n}/{d}" if n else f"{f}-{i}",
    "units": lambda f, i, n, d: f"{f} ft {i} {n}/{d} in" if n else f"{f} ft {i} in",
    "units and no spaces": lambda f, i, n, d: f"{f}ft {i} {n}/{d}in" if n else f"{f}ft {i}in",
    "words": lambda f, i, n, d: (
        f"{words(f)} foot {words(i)}" + (f" and {fraction_words(n, d)}" if n else "") + " inches"
    ),
    "words without inches": lambda f, i, n, d: (
        f"{words(f)} feet {words(i)}" + (f" and {fraction_words(n, d)}" if n else "")
    ),
}


@pytest.mark.parametrize("form", WRITTEN)
def test_feet_and_inches(form: str) -> None:
    for feet, inches, over, under in sixteenths():
        text = WRITTEN[form](feet, inches, over, under)
        amount = feet + (inches + Fraction(over, under)) / 12
        assert understood(f"reading {text}", Marking.INCHES) == (amount, Marking.INCHES), text


def test_inches_under_a_foot() -> None:
    for feet, inches, over, under in sixteenths():
        if feet == 0:
            amount = (inches + Fraction(over, under)) / 12
            part = f" {over}/{under}" if over else ""
            for text in (f'{inches}{part}"', f"{inches}{part} in", f"{inches}{part} inches"):
                for marking in Marking:
                    assert understood(f"reading {text}", marking) == (amount, Marking.INCHES), text


def test_decimals_on_a_rod_in_tenths() -> None:
    for hundredths in range(10_000):
        figures = f"{hundredths / 100:.2f}"
        whole, _, places = figures.partition(".")
        amount = Fraction(hundredths, 100)
        for text in (figures, f"{words(int(whole))} point {digits(places)} feet", f"{figures}'"):
            assert understood(f"reading {text}", Marking.TENTHS) == (amount, Marking.TENTHS), text


def test_millimetres() -> None:
    for millimetres in range(5000):
        amount = Fraction(millimetres, 1000)
        for text in (
            f"{millimetres} mm",
            f"{millimetres / 1000:.3f}",
            f"{millimetres / 1000:.3f} m",
        ):
            assert understood(f"reading {text}", Marking.METRIC) == (amount, Marking.METRIC), text


def test_bare_feet_and_inches() -> None:
    """ "three nine", "three oh nine" and digit by digit: 3 ft 9 in, or a question."""
    for feet in range(1, 26):
        for inches in range(12):
            wanted = (Fraction(12 * feet + inches, 12), Marking.INCHES)
            short = [f"{words(feet)} {words(inches)}", f"{digits(feet)} {digits(inches)}"]
            if inches < 10:
                short += [
                    f"{words(feet)} oh {words(inches)}",
                    f"{digits(feet)} zero {digits(inches)}",
                ]
            for text in short:
                got = understood(f"reading {text}", Marking.INCHES)
                assert got == wanted or isinstance(got, Miss), f"{text}: {got}"


def test_bare_feet_and_inches_are_mostly_understood() -> None:
    sure = [
        understood(f"reading {words(feet)} {words(inches)}", Marking.INCHES)
        for feet in range(1, 20)
        for inches in range(1, 12)
    ]
    assert all(isinstance(got, tuple) for got in sure)


def test_bare_hundredths() -> None:
    """ "three seventy five" on a rod in tenths: 3.75 ft, or a question."""
    for feet in range(1, 26):
        for hundredths in range(100):
            wanted = (feet + Fraction(hundredths, 100), Marking.TENTHS)
            tail = f"oh {words(hundredths)}" if hundredths < 10 else words(hundredths)
            for text in (f"{words(feet)} {tail}", f"{digits(feet)} {digits(f'{hundredths:02}')}"):
                got = understood(f"reading {text}", Marking.TENTHS)
                assert got == wanted or isinstance(got, Miss), f"{text}: {got}"


def test_places() -> None:
    """Every way to say a place, from 0+10 to 99+99 by whole feet."""
    for feet in range(10, 10_000, 7):
        full, beyond = divmod(feet, 100)
        forms = [f"{full}+{beyond:02}", f"{feet}", f"{words(full)} plus {digits(f'{beyond:02}')}"]
        forms += [digits(feet), f"{digits(full)} plus {digits(f'{beyond:02}')}"]
        if beyond >= 10:
            forms.append(f"{words(full)} plus {words(beyond)}")
            if full:
                forms.append(f"{words(full)} {words(beyond)}")
        elif full and beyond:
            forms.append(f"{words(full)} oh {words(beyond)}")
        for text in forms:
            got = placed(f"what should i read at station {text}")
            assert got == feet, f"{text}: {got}"


@pytest.mark.parametrize("marking", Marking)
def test_feet_and_inches_need_inches_below_twelve(marking: Marking) -> None:
    for feet in range(1, 26):
        for inches in range(12, 100):
            for text in (f"{feet}'{inches}\"", f"{words(feet)} foot {words(inches)} inches"):
                assert asked(understood(f"reading {text}", marking), {"inches"}), text


def test_parts_of_one_or_more() -> None:
    for under in PARTS:
        for over in range(under, 20):
            for text in (f'{over}/{under}"', f"3' 9 {over}/{under}\""):
                got = understood(f"reading {text}", Marking.INCHES)
                assert asked(got, {"fraction"} if under > 2 else {"fraction", "not a sentence"}), text


Got = tuple[Fraction, Marking] | Meaning | Miss


def understood(text: str, marking: Marking) -> Got:
    got = understand(text, Context(marking))
    return (got.length.amount, got.length.marking) if isinstance(got, Reading) else got


def asked(got: Got, reasons: set[str]) -> bool:
    return isinstance(got, Miss) and got.reason in reasons


def placed(text: str) -> Fraction | Meaning | Miss:
    got = understand(text, Context(Marking.TENTHS))
    if isinstance(got, AskGradeRod) and got.station is not None:
        return got.station.distance.amount
    return got
