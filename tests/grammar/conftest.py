"""What the tests of the grammar share."""

from __future__ import annotations

from collections.abc import Iterator

import pytest
from hypothesis import settings

settings.register_profile("grammar", deadline=None, max_examples=300, derandomize=True)


@pytest.fixture(autouse=True, scope="session")
def _profile() -> Iterator[None]:
    settings.load_profile("grammar")
    yield
    settings.load_profile("default")
