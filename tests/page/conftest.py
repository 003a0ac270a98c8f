"""Machines for the tests of the page."""

from collections.abc import Iterator
from pathlib import Path

import pytest

pytest.importorskip("starlette", reason="the extra [page] is not installed")

from page.machine import Machine


@pytest.fixture
def machine(tmp_path: Path, request: pytest.FixtureRequest) -> Iterator[Machine]:
    """One for each test; its parameter, where it has one, is further options."""
    one = Machine(tmp_path, "--quiet", *getattr(request, "param", ()))
    one.start()
    yield one
    if one.process is not None and one.process.poll() is None:
        one.stop()
    assert "Traceback" not in one.errors()


@pytest.fixture(scope="module")
def shared_machine(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Machine]:
    """One for tests that leave nothing behind."""
    one = Machine(tmp_path_factory.mktemp("machine"))
    one.start()
    yield one
    one.stop()
    assert "Traceback" not in one.errors()
