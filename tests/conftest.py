"""Lets every test import what tests share, and lets what they start be stopped from the keyboard.

No property has a deadline, so that a busy machine breaks none. `.ci/run` sets `CI`, in which hypothesis tries the same examples
each time; at home it tries others.
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


@pytest.fixture
def card(tmp_path: Path) -> Iterator[Card]:
    with virtual_card(tmp_path / "home") as made:
        yield made
