"""The program itself, at a terminal and on a virtual card."""

from __future__ import annotations

import os
import pty
import subprocess
import sys
import threading
from pathlib import Path

from fixtures import ROOT
from hearing.card import Card


class Talk:
    """`rodside` at a terminal, by voice and aloud; `heard` collects what it took for an utterance."""

    def __init__(self, card: Card, book: Path, *options: str) -> None:
        self.theirs, ours = pty.openpty()
        command = [sys.executable, "-m", "assistant", "--book", str(book), *options]
        pipes = {"stdout": subprocess.PIPE, "stderr": subprocess.STDOUT}
        self.program = subprocess.Popen(command, env=card.world, cwd=ROOT, stdin=ours, text=True, **pipes)  # type: ignore[call-overload]
        self.heard: list[str] = []
        self.told = ""
        self.all = ""
        self.ready = threading.Event()
        threading.Thread(target=self._read, daemon=True).start()

    def _read(self) -> None:
        for line in self.program.stdout:
            self.all += line
            if line.startswith("> "):
                self.heard.append(line[2:].strip())
            elif self.heard:
                self.told = line.strip()
            if "Listening by" in line:
                self.ready.set()

    @property
    def begun(self) -> str:
        """What it told before it listened."""
        return self.all.partition("Listening by")[0]

    def end(self) -> None:
        self.program.kill()
        self.program.wait()
        os.close(self.theirs)
