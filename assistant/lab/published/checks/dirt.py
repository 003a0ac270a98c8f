"""Volumes of dirt, and what it takes up."""

from __future__ import annotations

from collections.abc import Callable
from fractions import Fraction
from typing import Any

from assistant.grade import bulking, cells, earthwork, sections
from assistant.grade.safety import trench_top

YARD = earthwork.CUBIC_FEET_IN_A_YARD


def _fill(level: Fraction, cell: Fraction, corners: list[list[Fraction]]) -> Fraction:
    return -cells.net_volume([[corner - level for corner in row] for row in corners], cell)


def _cell(area: Fraction, *depths: Fraction) -> list[Fraction]:
    found = cells.four_point(area, depths)
    return [found.cut, found.fill, found.cut - found.fill]


def _keep_and_haul(weights: list[Fraction], dug: Fraction, backfill: Fraction, truck: Fraction) -> list[Any]:
    """Kept and hauled in the ground, hauled loose, and loads; weights are in the ground, loose, compacted."""
    bank, loose, compacted = weights
    keep = bulking.bank_for(backfill, bulking.shrink_percent(bank, compacted))
    hauled = earthwork.loose(dug - keep, bulking.swell_percent(bank, loose))
    return [keep, dug - keep, hauled, earthwork.loads(hauled, truck)]


def _import(compacted: Fraction, shrink: Fraction, swell: Fraction, truck: Fraction) -> list[Any]:
    bank = bulking.bank_for(compacted, shrink)
    loose = earthwork.loose(bank, swell)
    return [bank, loose, earthwork.loads(loose, truck)]


def _by_weights(weights: list[Fraction], cubic_feet: Fraction, truck: Fraction) -> list[Any]:
    """Compacted, in the ground, loose, loads."""
    bank, loose, compacted = weights
    shrink, swell = bulking.shrink_percent(bank, compacted), bulking.swell_percent(bank, loose)
    return [cubic_feet / YARD, *_import(cubic_feet / YARD, shrink, swell, truck)]


def _trench(bottom: Fraction, across: Fraction, depth: Fraction, length: Fraction) -> list[Any]:
    area = sections.banked_area(bottom, across, depth)
    return [trench_top(bottom, depth, across), area, area * length / YARD]


def _keep_some(dug: Fraction, swell: Fraction, shrink: Fraction, need: Fraction) -> list[Any]:
    keep = bulking.bank_for(need, shrink)
    return [earthwork.loose(dug, swell), keep, earthwork.loose(dug - keep, swell)]


CHECKS: dict[str, Callable[..., Any]] = {
    "depth to a level": lambda level, corners: _fill(level, Fraction(1), corners),
    "fill to a level, yards": lambda *inputs: _fill(*inputs) / YARD,
    "corner shares": lambda depths: [each for row in cells.corner_shares(depths) for each in row],
    "net volume": cells.net_volume,
    "cell of cut and fill": _cell,
    "cell of cut and fill, yards": lambda *inputs: [each / YARD for each in _cell(*inputs)],
    "sections": lambda apart, *runs: [sections.by_end_areas(areas, apart) for areas in runs],
    "end areas": lambda first, second, apart: [
        earthwork.average_end_area(first, second, apart),
        earthwork.average_end_area(first, second, apart) / YARD,
    ],
    "prismoid": earthwork.prismoidal,
    "pit with a mound": lambda pit, base, middle, top, high: [
        earthwork.prismoidal(base, middle, top, high),
        pit - earthwork.prismoidal(base, middle, top, high),
    ],
    "cut by end areas": sections.cut_by_end_areas,
    "cut by prismoids": sections.cut_by_prismoids,
    "end areas too big, percent": lambda *cut: (
        100 * (sections.cut_by_end_areas(*cut) / sections.cut_by_prismoids(*cut) - 1)
    ),
    "areas of a cut": lambda bottom, across, *depths: [sections.banked_area(bottom, across, each) for each in depths],
    "cut, yards": lambda bottom, across, length, *depths: [
        sections.banked_area(bottom, across, each) * length / YARD for each in depths
    ],
    "frustum": sections.frustum,
    "swell and shrink": lambda bank, loose, compacted: [
        bulking.swell_percent(bank, loose),
        bulking.shrink_percent(bank, compacted),
    ],
    "keep and haul": _keep_and_haul,
    "loads to haul": lambda *inputs: _keep_and_haul(*inputs)[-1],
    "import": _import,
    "by weights": lambda *inputs: _by_weights(*inputs)[:-1],
    "loads by weights": lambda *inputs: _by_weights(*inputs)[-1],
    "yards in a ton": lambda *pounds: [bulking.yards_in_a_ton(each) for each in pounds],
    "swell": lambda bank, loose: bulking.swell_percent(bank, loose),
    "loose": lambda volume, *percents: [earthwork.loose(volume, percent) for percent in percents],
    "loads": lambda load, *volumes: [earthwork.loads(each, load) for each in volumes],
    "load factors": lambda *swells: [bulking.load_factor(swell) for swell in swells],
    "load factor of weights": lambda bank, loose: bulking.load_factor(bulking.swell_percent(bank, loose)),
    "box, yards": lambda length, width, depth, swell: [
        length * width * depth / YARD,
        earthwork.loose(length * width * depth / YARD, swell),
    ],
    "box, loads": lambda length, width, depth, swell, truck: earthwork.loads(
        earthwork.loose(length * width * depth / YARD, swell), truck
    ),
    "keep some": _keep_some,
    "sloped trench": _trench,
}
