"""A report of a long job in parts, so that no page is longer than a browser can show."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace
from typing import Any

from assistant.report.contents import Report, Section

MOST = 12_000
"""Lines of a page; a run counts for its pictures. Our own choice: about five megabytes, more than months of a crew."""

PICTURES = 400
"""Lines that take about the room of the pictures of a run."""


def parts(report: Report) -> list[Report]:
    """The pages of a report: itself where it fits on one. All tell the whole job's counts and its proof."""
    pages: list[dict[str, list[Any]]] = [{}]
    room = MOST
    for name, piece, lines in _pieces(report):
        if lines > room and pages[-1]:
            pages.append({})
            room = MOST
        pages[-1].setdefault(name, []).append(piece)
        room -= lines
    if len(pages) == 1:
        return [report]
    return [_with(report, {name: [] for name in _LISTS} | _joined(page)) for page in pages]


def _with(report: Report, lists: dict[str, Any]) -> Report:
    return replace(report, **lists)


_LISTS = ("runs", "readings", "notes", "sections", "corrections", "exchanges", "cautions")


def _pieces(report: Report) -> Iterator[tuple[str, Any, int]]:
    """What a page can hold, in the order of the page: the list it stands in, and how many lines it takes."""
    for run in report.runs:
        yield "runs", run, PICTURES + (0 if run.cross is None else len(run.cross.rows))
    yield from (("readings", reading, 1) for reading in report.readings)
    for notes in report.notes:
        for start in range(0, len(notes.sights), MOST):
            end = min(start + MOST, len(notes.sights))
            yield "notes", replace(notes, rows=slice(start, end)), end - start
    for section in report.sections:
        yield from (("sections", Section(section.title, [line]), 1) for line in section.lines)
    for name in ("corrections", "exchanges", "cautions"):
        yield from ((name, one, 1) for one in getattr(report, name))


def _joined(page: dict[str, list[Any]]) -> dict[str, list[Any]]:
    """The lines of one section under one title."""
    by_title: dict[str, list[Any]] = {}
    for section in page.get("sections", ()):
        by_title.setdefault(section.title, []).extend(section.lines)
    return {**page, "sections": [Section(title, lines) for title, lines in by_title.items()]}
