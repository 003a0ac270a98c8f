"""Every sentence of tests/sentences means what its file says, or is refused for its reason."""

from __future__ import annotations

from collections import Counter
from typing import get_args

import pytest
from cases import REASONS, Case, cases, kind, written

from grammar.meanings import Meaning, Miss

ACCEPTED = [case for case in cases() if "means" in case.data]
REFUSED = [case for case in cases() if "refused" in case.data]


@pytest.mark.parametrize("case", [pytest.param(c, id=c.name) for c in cases()])
def test_sentence(case: Case) -> None:
    case.check()


def test_every_meaning_is_reached() -> None:
    reached = {case.data["means"]["kind"] for case in ACCEPTED}
    assert {kind_of(meaning) for meaning in get_args(Meaning)} == reached


def kind_of(meaning: type) -> str:
    return kind(object.__new__(meaning))


def test_every_reason_is_met() -> None:
    assert {case.data["refused"] for case in REFUSED} == REASONS


def test_there_are_enough_and_each_is_once() -> None:
    everything = [*ACCEPTED, *REFUSED]
    counts = Counter((c.data["say"], c.data["rod"], c.data.get("asking", False)) for c in everything)
    assert not [case for case, count in counts.items() if count > 1]
    assert len(ACCEPTED) >= 250
    assert len(REFUSED) >= 100


@pytest.mark.parametrize("case", [pytest.param(c, id=c.name) for c in REFUSED])
def test_miss_is_usable(case: Case) -> None:
    """A miss names a documented reason, hints at most three things, and its choices differ."""
    miss = case.understood()
    assert isinstance(miss, Miss)
    assert miss.reason in REASONS
    assert len(miss.could_follow) <= 3
    assert len(set(miss.could_follow)) == len(miss.could_follow)
    assert len({str(written(choice)) for choice in miss.choices}) == len(miss.choices)
    assert len({type(choice) for choice in miss.choices}) <= 1
    assert len(miss.choices) != 1


@pytest.mark.parametrize("case", [pytest.param(c, id=c.name) for c in ACCEPTED])
@pytest.mark.parametrize("change", [str.upper, "  {} ".format, "{}.".format, str.title])
def test_case_and_punctuation_do_not_matter(case: Case, change: object) -> None:
    assert callable(change)
    changed = Case(case.topic, {**case.data, "say": change(case.data["say"])})
    assert changed.understood() == case.understood()
