"""Spoken into a virtual card, recorded from it, and heard."""

import shutil
import subprocess
from pathlib import Path

import pytest
from hearing.card import Card

from assistant.hearing.ears import open_ear
from assistant.hearing.endpoint import utterances
from assistant.hearing.sources import blocks
from grammar.automaton import compile_language
from grammar.quantities import Marking

SENTENCE = "reading two foot eleven at station one hundred"

SPEAKER = f"""
from assistant.speaking.loudspeaker import Loudspeaker
from assistant.speaking.voices import open_voice

Loudspeaker().play(open_voice("neural").say({SENTENCE!r}))
print("said")
"""

INTERRUPTED = """
import threading
import time
import numpy as np
from assistant.speaking.loudspeaker import Loudspeaker
from assistant.speaking.port import Speech

speaker = Loudspeaker()
speaker.play(Speech(np.zeros(4800, np.int16), 48000))
threading.Timer(0.5, speaker.stop).start()
began = time.monotonic()
speaker.play(Speech(np.zeros(480000, np.int16), 48000))
print(time.monotonic() - began)
"""

TWO_AT_ONCE = """
import threading
import time
import numpy as np
from assistant.speaking.loudspeaker import Loudspeaker
from assistant.speaking.port import Speech

speaker = Loudspeaker()
ends = {}

def play(name, seconds):
    speaker.play(Speech(np.zeros(int(48000 * seconds), np.int16), 48000))
    ends[name] = time.monotonic()

first = threading.Thread(target=play, args=("first", 10))
first.start()
time.sleep(1)
play("second", 1)
first.join()
print(ends["first"] < ends["second"])
"""

NO_RATE = """
import numpy as np
import sounddevice
from assistant.speaking.loudspeaker import Loudspeaker
from assistant.speaking.port import Speech

real, opened = sounddevice.OutputStream, []

def refuse(device, channels, kind, extra, rate):
    if (channels, rate) != (2, 44100):
        raise sounddevice.PortAudioError("Invalid sample rate")

def opens(**settings):
    opened.append((settings["channels"], settings["samplerate"]))
    return real(**settings)

sounddevice.check_output_settings, sounddevice.OutputStream = refuse, opens
Loudspeaker().play(Speech(np.zeros(22050, np.int16), 22050))
print(opened)
"""


def output(card: Card, program: str) -> str:
    speaker = card.python(program)
    try:
        said, _ = speaker.communicate(timeout=30)
    finally:
        speaker.kill()
    assert speaker.returncode == 0
    return said


def test_what_is_spoken_comes_out_of_the_card_and_is_understood(card: Card, tmp_path: Path) -> None:
    if shutil.which("parecord") is None:
        pytest.skip("parecord is not installed")
    path = tmp_path / "card.wav"
    command = ["parecord", "--device=site.monitor", "--rate=48000", "--channels=1", "--file-format=wav", str(path)]
    recorder = subprocess.Popen(command, env=card.world)
    try:
        assert output(card, SPEAKER) == "said\n"
    finally:
        recorder.terminate()
        recorder.wait()
    (heard,) = utterances(blocks(path))
    guesses = open_ear().hear(heard, compile_language("sentence", Marking.INCHES))
    assert guesses[0].text == SENTENCE


def test_it_falls_silent_when_told(card: Card) -> None:
    assert float(output(card, INTERRUPTED)) < 3


def test_a_new_sentence_ends_the_one_before(card: Card) -> None:
    assert output(card, TWO_AT_ONCE) == "True\n"


def test_speech_at_a_rate_or_width_that_the_device_lacks_is_fitted(card: Card) -> None:
    assert output(card, NO_RATE) == "[(2, 44100)]\n"


def test_without_a_device_it_says_so(card: Card) -> None:
    card.unplug()
    program = """
from assistant.speaking.loudspeaker import Loudspeaker
from assistant.speaking.port import VoiceError
try:
    Loudspeaker("no such thing")
except VoiceError as lack:
    print(lack)
"""
    assert output(card, program) == "There is no loudspeaker.\n"
