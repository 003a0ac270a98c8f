"""A voice is recorded, kept, and scored."""

import io
from collections.abc import Iterator
from pathlib import Path
from types import SimpleNamespace

import numpy as np
import pytest
import soundfile
from fixtures import recordings

from assistant import cli
from assistant.commands import record
from assistant.environment import Environment, ExitStatus
from assistant.hearing.port import SAMPLE_RATE, Samples
from assistant.hearing.sources import blocks
from grammar.automaton import compile_language


def world(typed: str = "") -> Environment:
    return Environment(stdin=io.StringIO(typed), stdout=io.StringIO(), stderr=io.StringIO())


def out(here: Environment) -> str:
    assert isinstance(here.stdout, io.StringIO)
    return here.stdout.getvalue()


def test_the_prompts_are_forty_different_sentences_of_the_grammar() -> None:
    every = list(record.prompts(record.PROMPTS))
    language = compile_language("sentence", record.MARKING)
    assert len(set(every)) == record.PROMPTS
    assert all(language.accepts(text) for text in every)
    assert every == list(record.prompts(record.PROMPTS))


def test_what_is_read_is_kept_and_scored(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """The voice says another sentence than it was asked to, which the score must tell."""
    (spoken,) = [r for r in recordings("clean") if r.words == "reading three foot nine at station forty"]
    sound = np.concatenate(list(blocks(spoken.path)))

    def said() -> Iterator[Samples]:
        yield np.zeros(SAMPLE_RATE, np.int16)
        yield sound
        yield np.zeros(2 * SAMPLE_RATE, np.int16)

    monkeypatch.setattr(record, "Microphone", lambda device: SimpleNamespace(blocks=said))
    monkeypatch.setattr(record, "prompts", lambda count: iter([spoken.words, "confirm", "say again", "help"]))
    here = world("\n\ns\nq\n")
    assert cli.main(["record", str(tmp_path / "me"), "--prompts", "4"], here) == ExitStatus.OK
    assert record.recorded(tmp_path / "me") == {"01.flac": spoken.words, "02.flac": "confirm"}
    kept, rate = soundfile.read(tmp_path / "me" / "01.flac", dtype="int16")
    assert rate == SAMPLE_RATE
    assert len(sound) * 0.5 < len(kept) < len(sound) + 2 * SAMPLE_RATE
    assert out(here).splitlines()[-1].startswith("2 sentences: 1 right, 0 not heard, 1 taken for another;")
    again = world()
    assert cli.main(["record", str(tmp_path / "me"), "--score"], again) == ExitStatus.OK
    assert out(again).splitlines()[-1] == out(here).splitlines()[-1]


def test_nothing_recorded_is_told(tmp_path: Path) -> None:
    here = world()
    assert cli.main(["record", str(tmp_path), "--score"], here) == ExitStatus.NOT_UNDERSTOOD
    assert isinstance(here.stderr, io.StringIO)
    assert "nothing recorded" in here.stderr.getvalue()
