"""What is spoken into a phone is kept as what is spoken into the microphone is: told, proved, and turned off alike."""

import io
from pathlib import Path

import numpy as np
import pytest
import soundfile
from fixtures import AUDIO
from page.machine import Machine, pieces

from assistant import cli
from assistant.environment import Environment, ExitStatus
from assistant.hearing.sources import blocks

KEPT = "kept as sound"


def rodside(*arguments: object) -> tuple[int, str]:
    world = Environment(stdin=io.StringIO(), stdout=io.StringIO(), stderr=io.StringIO())
    status = cli.main([str(argument) for argument in arguments], world)
    return status, world.stdout.getvalue() + world.stderr.getvalue()  # type: ignore[attr-defined]


def spoken(machine: Machine) -> str:
    """What the page greets with, after which a recording and a typed line are written."""
    with machine.phone(machine.pair()) as phone:
        assert phone.said(1, pieces("demo/01.ogg"))["shown"] == "Rod in feet and inches."
        phone.typed(2, "my pace is 2 feet 6 inches")
        return str(phone.hello["last"]["shown"])


def test_what_is_spoken_into_a_phone_is_told_kept_and_proved(machine: Machine, tmp_path: Path) -> None:
    assert KEPT in spoken(machine)
    assert KEPT in machine.errors() and "--no-audio" in machine.errors()
    _, rod, pace = machine.entries()
    assert len(rod["audio"]) == 64 and pace["audio"] is None
    output = tmp_path / "one.wav"
    assert rodside("play", machine.book, rod["sequence"], "-o", output)[0] == ExitStatus.OK
    samples, rate = soundfile.read(output, dtype="int16")
    said = np.concatenate(list(blocks(AUDIO / "demo" / "01.ogg")))
    assert rate == 16_000
    assert any((said[at : at + len(samples)] == samples).all() for at in range(len(said) - len(samples) + 1))
    assert rodside("verify", machine.book)[0] == ExitStatus.OK
    (kept,) = Path(f"{machine.book}-sound").iterdir()
    kept.write_bytes(kept.read_bytes()[:-1])
    status, told = rodside("verify", machine.book)
    assert status == ExitStatus.NOT_UNDERSTOOD and f"the sound of entry {rod['sequence']} was changed" in told
    with machine.phone(machine.pair(name="other")) as phone:
        assert KEPT not in phone.hello["last"]["shown"], "told once"


@pytest.mark.parametrize("machine", [["--no-audio"]], indirect=True)
def test_no_sound_is_kept_where_that_is_turned_off(machine: Machine) -> None:
    assert KEPT not in spoken(machine)
    assert [entry["audio"] for entry in machine.entries()] == [None] * 3
    assert not Path(f"{machine.book}-sound").exists()
    assert rodside("play", machine.book, 2)[0] == ExitStatus.BOOK
