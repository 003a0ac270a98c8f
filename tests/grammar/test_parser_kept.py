"""The parser's tables are kept between runs; where they cannot be, it is only slower."""

import json
import pickle
import subprocess
import sys
from dataclasses import dataclass
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


def test_what_is_kept_is_data_that_cannot_run(tmp_path: Path, wanted: str) -> None:
    understood(tmp_path)
    (folder,) = tmp_path.iterdir()
    for path in folder.iterdir():
        json.loads(path.read_bytes())
    path = folder / "sentences.tables"
    path.write_bytes(pickle.dumps(_Runs(tmp_path / "ran")))
    assert understood(tmp_path) == wanted
    assert not (tmp_path / "ran").exists()


@dataclass
class _Runs:
    """A pickle of this makes a file when it is read."""

    path: Path

    def __reduce__(self) -> tuple[object, ...]:
        return Path.touch, (self.path,)


@pytest.mark.parametrize("spoil", [{"lark": "0"}, {"memo": {}}, {"data": {"options": {}}}, {"data": [1]}])
def test_tables_of_another_make_are_made_anew(tmp_path: Path, wanted: str, spoil: dict[str, object]) -> None:
    understood(tmp_path)
    path = tmp_path / "rodside" / "sentences.tables"
    kept_there = json.loads(path.read_bytes())
    kept_there["what"] |= spoil
    path.write_text(json.dumps(kept_there))
    assert understood(tmp_path) == wanted


def test_a_place_where_others_can_write_is_not_used(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(kept, "user_cache_dir", lambda name: str(tmp_path / "place"))
    kept.write("some.json", [1])
    assert (tmp_path / "place").stat().st_mode & 0o777 == 0o700
    (tmp_path / "place").chmod(0o777)
    assert kept.read("some.json") is None
    assert kept.place("some.json") is None
