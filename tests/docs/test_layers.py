"""Nothing flows backwards: the imports are read, and each room uses only those below it."""

from __future__ import annotations

import ast
from collections.abc import Iterator
from functools import cache
from graphlib import TopologicalSorter
from pathlib import Path

import pytest
from fixtures import ROOT

LAYERS = (
    "grammar",
    "assistant.environment",
    "assistant.grade",
    "assistant.book",
    "assistant.settings assistant.office",
    "assistant.job",
    "assistant.wording",
    "assistant.speaking",
    "assistant.hearing",
    "assistant.doubting",
    "assistant.conversation",
    "assistant.talk",
    "assistant.report",
    "assistant.page",
    "assistant.lab",
    "assistant.commands",
    "assistant.cli",
    "assistant.__main__",
)
"""The rooms, lowest first. Those on one line know nothing of each other."""

RANKS = {room: rank for rank, rooms in enumerate(LAYERS) for room in rooms.split()}


@cache
def modules() -> dict[str, Path]:
    found = {}
    for base in ("assistant", "grammar"):
        for path in (ROOT / base).rglob("*.py"):
            name = ".".join(path.relative_to(ROOT).with_suffix("").parts)
            found[name.removesuffix(".__init__")] = path
    return found


def imports(path: Path) -> Iterator[str]:
    """Our modules that a module imports, wherever in it, for types too."""
    for node in ast.walk(ast.parse(path.read_text("utf-8"))):
        if isinstance(node, ast.ImportFrom) and node.module:
            for alias in node.names:
                whole = f"{node.module}.{alias.name}"
                if whole in modules() or node.module in modules():
                    yield whole if whole in modules() else node.module
        elif isinstance(node, ast.Import):
            yield from (alias.name for alias in node.names if alias.name in modules())


def room(module: str) -> str:
    parts = module.split(".")
    return parts[0] if parts[0] == "grammar" else ".".join(parts[:2])


@pytest.mark.parametrize("module", [name for name in modules() if name != "assistant"])
def test_a_room_uses_only_those_below_it(module: str) -> None:
    for used in imports(modules()[module]):
        if room(used) != room(module):
            assert RANKS[room(used)] < RANKS[room(module)], f"{module} imports {used}"


def test_there_is_no_circle_among_modules() -> None:
    graph = {name: set(imports(path)) - {name, "assistant", "grammar"} for name, path in modules().items()}
    assert list(TopologicalSorter(graph).static_order())


def test_what_people_use_needs_no_training() -> None:
    for name, path in modules().items():
        used = list(imports(path))
        if not name.startswith("assistant.lab.training"):
            assert not [one for one in used if one.startswith("assistant.lab.training")], name
        if room(name) not in ("assistant.lab", "assistant.commands"):
            assert not [one for one in used if one.startswith("assistant.lab")], name


def test_the_hall_is_empty_but_for_the_doors() -> None:
    loose = {path.name for path in (ROOT / "assistant").glob("*.py")}
    assert loose == {"__init__.py", "__main__.py", "cli.py", "environment.py", "settings.py"}
