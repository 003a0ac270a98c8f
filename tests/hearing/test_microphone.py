"""The path of real sound: a virtual card, a program that plays into it, and the microphone that records from it."""

import os
import shutil
import subprocess
import sys
import time
from collections.abc import Iterator
from pathlib import Path

import pytest
import soundfile
from fixtures import ROOT, recordings

from assistant.hearing import microphone
from assistant.hearing.sources import SoundError

LISTENER = """
import sys
from assistant.book.store import Book
from assistant.environment import now
from assistant.hearing.ears import open_ear
from assistant.hearing.microphone import Microphone
from assistant.listening import listen
from assistant.session import Session

with Book.scratch(now) as book:
    session = Session(book)
    session.utterance(["rod in feet and inches"])
    session.utterance(["baseline four foot two at station zero"])
    session.utterance(["confirm"])
    ear = open_ear("sphinx")
    microphone = Microphone()
    print("listening", flush=True)
    for outcome in listen(session, ear, microphone.blocks()):
        print(outcome.heard, "|", outcome.reply.shown, flush=True)
    print("lost blocks:", microphone.overflows, flush=True)
"""


@pytest.fixture
def card(tmp_path: Path) -> Iterator[dict[str, str]]:
    """A PulseAudio of our own, with a null sink whose monitor is the microphone."""
    if shutil.which("pulseaudio") is None or shutil.which("paplay") is None:
        pytest.skip("PulseAudio is not installed, so no virtual card can be made")
    home = tmp_path / "home"
    home.mkdir(mode=0o700)
    world = {
        **os.environ,
        "HOME": str(home),
        "XDG_RUNTIME_DIR": str(home),
        "PULSE_RUNTIME_PATH": str(home / "pulse"),
        "PULSE_SERVER": f"unix:{home}/pulse/native",
        "PYTHONPATH": str(ROOT),
    }
    (home / ".asoundrc").write_text("pcm.!default { type pulse }\nctl.!default { type pulse }\n")
    command = [
        "pulseaudio",
        "-n",
        "--daemonize=no",
        "--exit-idle-time=-1",
        "--disallow-exit",
        "-L",
        f"module-native-protocol-unix socket={home}/pulse/native auth-anonymous=1",
        "-L",
        "module-null-sink sink_name=site rate=48000",
        "-L",
        "module-suspend-on-idle timeout=3600",
    ]
    (home / "pulse").mkdir(mode=0o700)
    with (tmp_path / "pulse.log").open("w") as log:
        server = subprocess.Popen(command, env=world, stdout=log, stderr=log)
    try:
        for _ in range(50):
            time.sleep(0.1)
            if subprocess.run(["pactl", "info"], env=world, capture_output=True).returncode == 0:
                break
        else:
            pytest.skip(f"no virtual card: {(tmp_path / 'pulse.log').read_text()[-300:]}")
        source = ["pactl", "set-default-source", "site.monitor"]
        subprocess.run(source, env=world, check=True)
        probe = "import sounddevice; print(sounddevice.query_devices(None, 'input')['name'])"
        found = subprocess.run([sys.executable, "-c", probe], env=world, capture_output=True, text=True)
        if found.returncode != 0:
            pytest.skip("PortAudio does not see the virtual card (libasound2-plugins is missing?)")
        yield world
    finally:
        server.terminate()
        server.wait()


def test_spoken_into_a_card_heard_from_it_and_answered(card: dict[str, str], tmp_path: Path) -> None:
    talk = {
        "reading two foot eleven at station one hundred": (
            "2 ft 11 in at 1+00. Cut 1 ft 3 in to the level of the baseline."
        ),
        "what should i read at station sixty": "Read 4 ft 2 in, level with the baseline.",
        "reading three foot nine at station forty": "0+40, or 0+14?",
        "never mind": "Nothing was written.",
        "stop listening": "Stopped. Readings in the book: 1.",
    }
    by_words = {r.words: r for r in recordings("clean")}
    listener = subprocess.Popen([sys.executable, "-c", LISTENER], env=card, stdout=subprocess.PIPE, text=True)
    assert listener.stdout is not None
    try:
        assert listener.stdout.readline() == "listening\n"
        time.sleep(0.5)
        for words, answer in talk.items():
            wav = tmp_path / "say.wav"
            soundfile.write(wav, *soundfile.read(by_words[words].path))
            subprocess.run(["paplay", "--device=site", wav], env=card, check=True)
            assert listener.stdout.readline() == f"{words} | {answer}\n"
        assert listener.stdout.readline() == "lost blocks: 0\n"
        assert listener.wait(timeout=10) == 0
    finally:
        listener.kill()
        listener.stdout.close()


def test_an_absent_microphone_says_what_to_do() -> None:
    with pytest.raises(SoundError, match="no microphone 'moon base'; here are:"):
        microphone.Microphone("moon base")


def test_no_microphone_at_all_offers_typing() -> None:
    if microphone.names():
        pytest.skip("there is a microphone here")
    with pytest.raises(SoundError, match="--typed"):
        microphone.Microphone()
