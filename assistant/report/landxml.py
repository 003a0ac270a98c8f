"""Known points and profiles as LandXML 1.2, an open schema of landxml.org (its structure from memory).

Decimals to a millionth, in the unit of the job. A book has no coordinates of the earth: an alignment runs along its
stations, from northing 0, easting = station; a reading beside the line stands at its offset, to the left as northing.
Benchmarks have an elevation and no place, and stand in a note of the project.
"""

from __future__ import annotations

import re
from collections.abc import Iterable
from fractions import Fraction
from xml.etree import ElementTree as Tree

from assistant.book.entries import Row
from assistant.environment import visible
from assistant.report.amounts import feet_of, figures, in_unit
from assistant.report.ledger import unproven
from assistant.report.survey import Point, Run, runs
from grammar.quantities import Marking

NAMESPACE = "http://www.landxml.org/schema/LandXML-1.2"
_PLACES = 6
_NOT_XML = re.compile(r"[^\t\n\r -\ud7ff\ue000-\ufffd\U00010000-\U0010ffff]")
"""What no document of XML 1.0 may hold, not even as a reference."""


def to_landxml(rows: Iterable[Row], name: str) -> str:
    """The document of a book's rows; what was taken back is left out, what is unproven says so."""
    every = list(rows)
    scratched = {int(row.payload["sequence"]) for row in every if row.kind == "scratch"}
    standing = [row for row in every if row.sequence not in scratched and row.kind != "scratch"]
    doubtful = unproven(standing)
    surveyed = runs(standing, lambda entry: entry not in doubtful)
    metric = bool(surveyed) and surveyed[-1].marking is Marking.METRIC
    root = Tree.Element("LandXML", _head(every))
    _units(root, metric=metric)
    project = Tree.SubElement(root, "Project", name=name)
    for row in standing:
        if row.kind == "benchmark":
            _benchmark(project, row, Marking.METRIC if metric else Marking.TENTHS)
    Tree.SubElement(root, "Application", name="Rodside")
    if surveyed:
        lines = Tree.SubElement(root, "Alignments")
        for number, run in enumerate(surveyed, 1):
            _alignment(lines, run, number, Marking.METRIC if metric else Marking.TENTHS)
        points = Tree.SubElement(root, "CgPoints")
        for run in surveyed:
            for point in run.points:
                _point(points, point, Marking.METRIC if metric else Marking.TENTHS, elevations=run.elevations)
    Tree.indent(root)
    text = Tree.tostring(root, encoding="unicode", xml_declaration=False, short_empty_elements=True)
    return _NOT_XML.sub(lambda found: visible(found[0]), text)


def _head(rows: list[Row]) -> dict[str, str]:
    time = rows[-1].time if rows else "1970-01-01T00:00:00"
    return {"xmlns": NAMESPACE, "version": "1.2", "date": time[:10], "time": time[11:19], "readOnly": "true"}


def _units(root: Tree.Element, *, metric: bool) -> None:
    units = Tree.SubElement(root, "Units")
    if metric:
        Tree.SubElement(units, "Metric", areaUnit="squareMeter", linearUnit="meter", volumeUnit="cubicMeter",
                        temperatureUnit="celsius", pressureUnit="HPA")  # fmt: skip
    else:
        Tree.SubElement(units, "Imperial", areaUnit="squareFoot", linearUnit="foot", volumeUnit="cubicYard",
                        temperatureUnit="fahrenheit", pressureUnit="inHG")  # fmt: skip


def _benchmark(project: Tree.Element, row: Row, marking: Marking) -> None:
    number = row.payload.get("number")
    label = "benchmark" if number is None else f"benchmark {number}"
    feature = Tree.SubElement(project, "Feature", code="benchmark", name=f"entry {row.sequence}")
    Tree.SubElement(feature, "Property", label=label, value=_figure(feet_of(row.payload["elevation"]), marking))


def _alignment(lines: Tree.Element, run: Run, number: int, marking: Marking) -> None:
    left = run.on_line(run.left())
    ends = sorted(point.station for point in run.points)
    start, end = ends[0], ends[-1]
    what = "elevations" if run.elevations else "heights over the start of the line"
    alignment = Tree.SubElement(lines, "Alignment", name=f"run {number}", length=_figure(end - start, marking),
                                staStart=_figure(start, marking), desc=f"{run.title}; {what}")  # fmt: skip
    line = Tree.SubElement(Tree.SubElement(alignment, "CoordGeom"), "Line")
    for name, station in (("Start", start), ("End", end)):
        Tree.SubElement(line, name).text = f"{_figure(Fraction(0), marking)} {_figure(station, marking)}"
    profile = Tree.SubElement(alignment, "Profile", name=f"run {number}")
    if len(left) > 1:
        surface = Tree.SubElement(profile, "ProfSurf", name="ground as left")
        Tree.SubElement(surface, "PntList2D").text = _pairs([(point.station, point.ground) for point in left], marking)
    design = run.corners()
    if len(design) > 1:
        planned = Tree.SubElement(profile, "ProfAlign", name="design")
        for corner in design:
            Tree.SubElement(planned, "PVI").text = _pairs([corner], marking)


def _point(points: Tree.Element, point: Point, marking: Marking, *, elevations: bool) -> None:
    what = "elevation" if elevations else "height over the start of the line"
    doubt = "" if point.proven else ", unproven"
    element = Tree.SubElement(points, "CgPoint", name=f"entry {point.entry}", desc=f"{what}{doubt}")
    element.text = " ".join(_figure(feet, marking) for feet in (point.offset, point.station, point.ground))


def _pairs(pairs: list[tuple[Fraction, Fraction]], marking: Marking) -> str:
    return " ".join(f"{_figure(station, marking)} {_figure(height, marking)}" for station, height in pairs)


def _figure(feet: Fraction, marking: Marking) -> str:
    return figures(in_unit(feet, marking), _PLACES)
