"""The locked versions are of all that is asked for, within its ranges, each with the hashes of its files."""

from __future__ import annotations

import re
import tomllib
from importlib.metadata import requires

import pytest
from fixtures import ROOT
from packaging.markers import default_environment
from packaging.requirements import Requirement
from packaging.utils import canonicalize_name

LOCKED = (ROOT / ".ci" / "requirements.lock").read_text("utf-8")
PROJECT = tomllib.loads((ROOT / "pyproject.toml").read_text("utf-8"))["project"]
EVERY = re.findall(
    r"^([a-z][^ \n]*==\S+)((?: ;[^\\\n]*)?)((?: \\\n +--hash=sha256:[0-9a-f]{64})*)$", LOCKED, re.MULTILINE
)


def wanted() -> list[Requirement]:
    extras = PROJECT["optional-dependencies"]
    groups = [PROJECT["dependencies"], *(extras[name] for name in ("dev", "report", "office", "page"))]
    every = [Requirement(text) for group in groups for text in group]
    return [each for each in every if canonicalize_name(each.name) != "rodside"]


@pytest.mark.parametrize("requirement", wanted(), ids=str)
def test_what_is_asked_for_is_locked_within_its_range(requirement: Requirement) -> None:
    locked = [Requirement(f"{pinned}{marker}") for pinned, marker, _ in EVERY]
    here = [
        each
        for each in locked
        if canonicalize_name(each.name) == canonicalize_name(requirement.name)
        and (each.marker is None or each.marker.evaluate())
    ]
    (one,) = here
    (pinned,) = one.specifier
    assert requirement.specifier.contains(pinned.version)


def test_every_line_has_hashes() -> None:
    lines = [line for line in LOCKED.splitlines() if line and line[0].isalpha()]
    assert len(EVERY) == len(lines)
    assert all(hashes for _, _, hashes in EVERY)


def test_what_those_need_is_locked_too() -> None:
    names = {canonicalize_name(pinned.partition("==")[0]) for pinned, _, _ in EVERY}
    here = {**default_environment(), "extra": ""}
    for requirement in wanted():
        for text in requires(requirement.name) or ():
            needed = Requirement(text)
            if needed.marker is None or needed.marker.evaluate(here):
                assert canonicalize_name(needed.name) in names, f"{requirement.name} needs {needed.name}"
