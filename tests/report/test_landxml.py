"""Points and profiles as LandXML."""

from fractions import Fraction
from xml.etree import ElementTree as Tree

from days import day, told

from assistant.report.landxml import NAMESPACE, to_landxml

LEVELLED = [
    "rod in tenths", "benchmark number 3 elevation 100", "confirm", "backsight 4.00", "confirm",
    "line from station zero at elevation 99 falling one percent", "confirm", "bend at station fifty level", "confirm",
    "drop two tenths at station sixty", "confirm", "reading 5.10 at zero", "reading 5.45 at 50", "reading 5.75 at 80",
    "reading 5.3 at 50 offset 6 right", "confirm",
]  # fmt: skip


def test_the_design_has_its_corners_and_the_ground_its_readings() -> None:
    document = to_landxml(told(LEVELLED).rows(), "levelled")
    corners = [
        [Fraction(x) for x in (pvi.text or "").split()] for pvi in Tree.fromstring(document).iter(f"{{{NAMESPACE}}}PVI")
    ]
    assert corners == [
        [0, 99],
        [50, Fraction("98.5")],
        [60, Fraction("98.5")],
        [60, Fraction("98.3")],
        [80, Fraction("98.3")],
    ]
    (ground,) = Tree.fromstring(document).iter(f"{{{NAMESPACE}}}PntList2D")
    assert (ground.text or "").split() == ["0.000000", "98.900000", "50.000000", "98.550000", "80.000000", "98.250000"]


def test_a_point_beside_the_line_stands_at_its_offset() -> None:
    document = to_landxml(told(LEVELLED).rows(), "levelled")
    points = {point.get("name"): point.text for point in Tree.fromstring(document).iter(f"{{{NAMESPACE}}}CgPoint")}
    assert len(points) == 4
    assert "-6.000000 50.000000 98.700000" in points.values()


def test_units_benchmark_and_what_is_unproven_are_told() -> None:
    root = Tree.fromstring(to_landxml(told(LEVELLED).rows(), "levelled"))
    assert next(root.iter(f"{{{NAMESPACE}}}Imperial")).get("linearUnit") == "foot"
    assert [p.attrib for p in root.iter(f"{{{NAMESPACE}}}Property")] == [
        {"label": "benchmark 3", "value": "100.000000"}
    ]
    metric = Tree.fromstring(to_landxml(day("pad").rows(), "pad"))
    assert next(metric.iter(f"{{{NAMESPACE}}}Metric")).get("linearUnit") == "meter"
    drain = Tree.fromstring(to_landxml(day("drain").rows(), "drain"))
    assert sum("unproven" in (p.get("desc") or "") for p in drain.iter(f"{{{NAMESPACE}}}CgPoint")) == 5


def test_an_empty_book_is_a_document() -> None:
    assert Tree.fromstring(to_landxml([], "empty")).tag == f"{{{NAMESPACE}}}LandXML"
