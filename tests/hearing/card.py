"""A virtual sound card: a PulseAudio of our own, with a null sink whose monitor is the microphone."""

from __future__ import annotations

import os
import shutil
import subprocess
import sys
import time
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path

import pytest
from fixtures import ROOT


@dataclass
class Card:
    """The card, and the environment of programs that see no other."""

    home: Path
    world: dict[str, str]
    server: subprocess.Popen[bytes] | None = None

    def plug(self) -> None:
        """Start the server and wait until it is there."""
        command = ["pulseaudio", "-n", "--daemonize=no", "--exit-idle-time=-1", "--disallow-exit"]
        modules = (
            f"module-native-protocol-unix socket={self.home}/pulse/native auth-anonymous=1",
            "module-null-sink sink_name=site rate=48000",
        )
        for module in modules:
            command += ["-L", module]
        with (self.home / "log").open("w") as log:
            self.server = subprocess.Popen(command, env=self.world, stdout=log, stderr=log)
        for _ in range(50):
            time.sleep(0.1)
            if self.run("pactl", "info").returncode == 0:
                break
        else:
            pytest.skip(f"no virtual card: {(self.home / 'log').read_text()[-300:]}")
        assert self.run("pactl", "set-default-source", "site.monitor").returncode == 0

    def unplug(self) -> None:
        """Take the card away at once."""
        if self.server is not None:
            self.server.kill()
            self.server.wait()

    def run(self, *command: str) -> subprocess.CompletedProcess[str]:
        """Run a program that sees this card."""
        return subprocess.run(command, env=self.world, capture_output=True, text=True)

    def python(self, program: str) -> subprocess.Popen[str]:
        """Start a Python program that sees this card."""
        return subprocess.Popen([sys.executable, "-c", program], env=self.world, stdout=subprocess.PIPE, text=True)


@contextmanager
def virtual_card(home: Path) -> Iterator[Card]:
    """A card that is plugged in; the test is skipped where none can be made."""
    if shutil.which("pulseaudio") is None or shutil.which("pactl") is None:
        pytest.skip("PulseAudio is not installed, so no virtual card can be made")
    home.mkdir(mode=0o700)
    (home / "pulse").mkdir(mode=0o700)
    (home / ".asoundrc").write_text("pcm.!default { type pulse }\nctl.!default { type pulse }\n")
    world = {
        **os.environ,
        "HOME": str(home),
        "XDG_RUNTIME_DIR": str(home),
        "PULSE_RUNTIME_PATH": str(home / "pulse"),
        "PULSE_SERVER": f"unix:{home}/pulse/native",
        "PYTHONPATH": str(ROOT),
    }
    card = Card(home, world)
    try:
        card.plug()
        probe = "import sounddevice; print(sounddevice.query_devices(None, 'input')['name'])"
        if card.run(sys.executable, "-c", probe).returncode != 0:
            pytest.skip("PortAudio does not see the virtual card (libasound2-plugins is missing?)")
        yield card
    finally:
        card.unplug()
