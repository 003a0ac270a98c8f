"""A place for a book, and a disk that is really small."""

import os
import subprocess
from collections.abc import Iterator
from pathlib import Path

import pytest


@pytest.fixture
def path(tmp_path: Path) -> Path:
    return tmp_path / "day.rodside"


@pytest.fixture
def small_disk(tmp_path: Path) -> Iterator[Path]:
    """A disk of 128 kB: the index of a log alone takes 32."""
    place = tmp_path / "disk"
    place.mkdir()
    if os.name != "posix" or os.geteuid() != 0:
        pytest.skip("only root can mount a small disk")
    made = subprocess.run(["mount", "-t", "tmpfs", "-o", "size=128k", "none", place], check=False)
    if made.returncode != 0:
        pytest.skip("a small disk cannot be mounted here")
    yield place
    subprocess.run(["umount", place], check=True)
