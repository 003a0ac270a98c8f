"""The parser's tables are kept between runs; where they cannot be, it is only slower."""

import json
import subprocess
import sys
from pathlib import Path

import pytest

from grammar import kept

PROGRAM = """
from grammar.understand import understand, Context
from grammar.quantities import Marking
print(understand("reading three nine at forty", Context(Marking.INCHES)))
"""


def understood(cache: Path) -> str:
    done = subprocess.run(
        [sys.executable, "-c", PROGRAM], env={"XDG_CACHE_HOME": str(cache)}, capture_output=True, text=True, check=True
    )
    assert not done.stderr
    return done.stdout


@pytest.fixture(scope="module")
def wanted(tmp_path_factory: pytest.TempPathFactory) -> str:
    return understood(tmp_path_factory.mktemp("cache"))


def test_tables_are_kept_and_used(tmp_path: Path, wanted: str) -> None:
    assert understood(tmp_path) == wanted
    assert (tmp_path / "rodside" / "sentences.tables").stat().st_size > 0
    assert understood(tmp_path) == wanted


def test_a_spoiled_file_is_made_anew(tmp_path: Path, wanted: str) -> None:
    understood(tmp_path)
    (tmp_path / "rodside" / "sentences.tables").write_bytes(b"not a table")
    assert understood(tmp_path) == wanted


def test_a_place_where_nothing_can_be_kept_does_no_harm(tmp_path: Path, wanted: str) -> None:
    (tmp_path / "file").write_text("")
    assert understood(tmp_path / "file") == wanted


def test_a_full_disk_leaves_no_half_file(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    def full(*_: object, **__: object) -> None:
        raise OSError("no space left")

    monkeypatch.setattr(kept, "user_cache_dir", lambda name: str(tmp_path))
    kept.write("some.json", [1])
    assert kept.read("some.json") == [1]
    monkeypatch.setattr(json, "dump", full)
    kept.write("some.json", [2])
    assert kept.read("some.json") == [1]
    assert [path.name for path in tmp_path.iterdir()] == ["some.json"]
