"""Whole level notes. A set-up is a list: the backsight, readings beside the run, and the foresight last."""

from __future__ import annotations

from collections.abc import Callable
from fractions import Fraction
from typing import Any

from assistant.grade import levelling, levels, tolerances
from assistant.grade.levelling import Setup, Worked

Readings = list[list[Fraction]]


def _run(setups: Readings) -> list[Setup]:
    return [Setup(first, tuple(between), last) for first, *between, last in setups]


def _notes(known: Fraction, setups: Readings, closing: Fraction | None = None) -> list[Any]:
    """Instruments, elevations, both sums, and the misclosure where the last point is known.

    Raises `ArithmeticError` where the page check or the rises and falls do not agree with the elevations.
    """
    run = _run(setups)
    worked = levelling.worked(known, run)
    points = [point for setup in worked for point in setup.points]
    backsights, foresights = [setup.backsight for setup in run], [setup.foresight for setup in run]
    checked = levelling.page_check(backsights, foresights) == points[-1] - known
    if not checked or levelling.rise_and_fall(known, run) != points:
        raise ArithmeticError("the page check fails")
    off = [] if closing is None else [levelling.misclosure(points[-1], closing)]
    return [*(setup.instrument for setup in worked), *points, sum(backsights), sum(foresights), *off]


def _adjusted(known: Fraction, setups: Readings, closing: Fraction) -> tuple[list[Worked], list[Fraction]]:
    worked = levelling.worked(known, _run(setups))
    off = levelling.misclosure(worked[-1].points[-1], closing)
    return worked, levelling.equal_corrections(off, len(worked))


def _below(known: Fraction, setups: Readings, closing: Fraction, design: list[Fraction]) -> list[Any]:
    """Cut or fill under a design (elevation at 0, percent, places) of the points beside the run."""
    worked, corrections = _adjusted(known, setups, closing)
    ground = [p + more for setup, more in zip(worked, corrections, strict=True) for p in setup.points[:-1]]
    start, percent, *places = design
    found: list[Any] = []
    for point, place in zip(ground, places, strict=True):
        result = levels.cut_or_fill(point, start + percent / 100 * place, Fraction(0))
        found += [result.kind, result.amount]
    return found


def _standing(coefficient: Fraction, length: Fraction, off: Fraction) -> list[Any]:
    allowed = levelling.allowable(coefficient, length)
    return [allowed, "passes" if abs(off) <= allowed else "fails"]


CHECKS: dict[str, Callable[..., Any]] = {
    "level notes": _notes,
    "elevations of a run": lambda known, setups: [
        point for setup in levelling.worked(known, _run(setups)) for point in setup.points
    ],
    "adjusted equally": lambda *inputs: levelling.adjusted(*_adjusted(*inputs)),
    "corrections in mm": lambda *inputs: [1000 * each for each in _adjusted(*inputs)[1]],
    "equal corrections": lambda off, setups, number: levelling.equal_corrections(off, int(setups))[: int(number)],
    "cut and fill under a design": _below,
    "page check": levelling.page_check,
    "closes": lambda computed, known: list(levelling.closes(computed, known)),
    "classes in feet": lambda *names: [tolerances.levelling_class(name).feet for name in names],
    "classes in millimetres": lambda *names: [tolerances.levelling_class(name).millimetres for name in names],
    "per root mile": lambda *each: [levelling.per_root_mile(millimetres) for millimetres in each],
    "allowable": lambda coefficient, *lengths: [levelling.allowable(coefficient, length) for length in lengths],
    "allowable of classes": lambda length, *names: [
        levelling.allowable(tolerances.levelling_class(name).millimetres or Fraction(0), length) for name in names
    ],
    "per root": lambda off, length: off / levelling.allowable(Fraction(1), length),
    "stands against": _standing,
    "error of set-ups": lambda each, *counts: [levelling.of_setups(each, int(count)) for count in counts],
    "wire slip": levelling.wire_slip,
}
