"""The door for programs: its example works, and it imports nothing before it is asked to."""

from __future__ import annotations

import re
import subprocess
import sys
import textwrap
from pathlib import Path

import pytest
import soundfile
from fixtures import ROOT, recordings

import assistant


def test_the_example_works(tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]) -> None:
    monkeypatch.chdir(tmp_path)
    said = next(recording for recording in recordings("clean") if recording.words == "scratch that")
    soundfile.write("said.wav", *soundfile.read(said.path))
    assert assistant.__doc__ is not None
    (example,) = re.findall(r"(?:^ {4}.*\n|^\n)+", assistant.__doc__.partition("\n\n")[2], re.MULTILINE)[:1]
    exec(textwrap.dedent(example), {})
    assert capsys.readouterr().out.splitlines() == [
        "Rod in feet and inches. ['rod']",
        "scratch that Scratched the marking of the rod.",
    ]


def test_everything_that_it_names_is_there() -> None:
    for name in assistant.__all__:
        assert getattr(assistant, name).__doc__
    with pytest.raises(AttributeError):
        assistant.nothing_of_the_kind  # noqa: B018


def test_to_import_it_costs_nothing() -> None:
    heavy = "('lark', 'numpy', 'assistant.')"
    program = f"import sys, assistant; print([name for name in sys.modules if name.startswith({heavy})])"
    done = subprocess.run([sys.executable, "-c", program], capture_output=True, text=True, cwd=ROOT, check=True)
    assert done.stdout.strip() == "[]"
