"""Lets every test import what tests share, and lets what they start be stopped from the keyboard.

No property has a deadline, so that a busy machine breaks none. With `CI` set, as `.ci/run` does, hypothesis tries the
same examples each time; at home it tries others.
"""

import signal
import sys
from collections.abc import Iterator
from pathlib import Path

import pytest
from hypothesis import HealthCheck, settings

sys.path.insert(0, str(Path(__file__).parent))

from hearing.card import Card, virtual_card

settings.register_profile("rodside", deadline=None, suppress_health_check=[HealthCheck.too_slow])
settings.load_profile("rodside")

if signal.getsignal(signal.SIGINT) is signal.SIG_IGN:
    # A job in the background of a script ignores the keyboard, and so would all that it starts.
    signal.signal(signal.SIGINT, signal.default_int_handler)


SLOW = (
    *(f"book/test_deaths.py::test_what_was_answered_is_in_the_book_after_a_kill[{seed}]" for seed in range(3, 15)),
    "book/test_deaths.py::test_any_call_on_the_files_may_fail[EIO]",
    "store/test_office.py::test_nothing_is_lost_or_doubled_when_connections_are_cut",
)
"""Ends of the names of tests that are slow for being tried so often: a few of their kind, or others, always run."""


def pytest_collection_modifyitems(items: list[pytest.Item]) -> None:
    for item in items:
        if item.nodeid.endswith(SLOW):
            item.add_marker(pytest.mark.slow)


@pytest.fixture
def card(tmp_path: Path) -> Iterator[Card]:
    with virtual_card(tmp_path / "home") as made:
        yield made
