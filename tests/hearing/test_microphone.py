"""The path of real sound: a virtual card, a program that plays into it, and the microphone that records from it."""

import os
import pty
import subprocess
import sys
import threading
import time
from pathlib import Path

import pytest
import soundfile
from fixtures import ROOT, recordings
from hearing.card import Card

from assistant.hearing import microphone
from assistant.hearing.sources import SoundError

LISTENER = """
import sys
from assistant.book.store import Book
from assistant.environment import now
from assistant.hearing.ears import open_ear
from assistant.hearing.microphone import Microphone
from assistant.talk.listening import listen
from assistant.talk.session import Session

with Book.scratch(now) as book:
    session = Session(book, doubting=False)
    session.utterance(["rod in feet and inches"])
    session.utterance(["baseline four foot two at station zero"])
    session.utterance(["confirm"])
    ear = open_ear()
    microphone = Microphone()
    print("listening", flush=True)
    for outcome in listen(session, ear, microphone.blocks()):
        print(outcome.heard, "|", outcome.reply.shown, flush=True)
    print("lost blocks:", microphone.overflows, flush=True)
"""

RECORDER = """
from assistant.hearing.microphone import Microphone, MicrophoneLost

microphone = Microphone()
try:
    for number, block in enumerate(microphone.blocks()):
        if number == 10:
            print("sound comes", flush=True)
except MicrophoneLost as lost:
    print(lost, flush=True)
print("back within a second:", microphone.reopen(1), flush=True)
print("back:", microphone.reopen(30), flush=True)
for number, block in enumerate(microphone.blocks()):
    if number == 10:
        print("sound comes", flush=True)
        break
"""


@pytest.mark.slow
def test_spoken_into_a_card_heard_from_it_and_answered(card: Card, tmp_path: Path) -> None:
    talk = (
        (
            "reading two foot eleven at station one hundred",
            "2 ft 11 in at 1+00. Cut 1 ft 3 in to the level of the baseline.",
        ),
        ("what should i read at station sixty", "Read 4 ft 2 in, level with the baseline."),
        ("reading three foot nine at station forty", "3 ft 9 in at 0+40. Cut 5 in to the level of the baseline."),
        ("stop listening", "Stopped. Readings in the book: 2."),
    )
    by_words = {r.words: r for r in recordings("clean")}
    listener = card.python(LISTENER)
    assert listener.stdout is not None
    watchdog = threading.Timer(90, listener.kill)
    watchdog.start()
    try:
        assert listener.stdout.readline() == "listening\n"
        time.sleep(0.5)
        for words, answer in talk:
            wav = tmp_path / "say.wav"
            soundfile.write(wav, *soundfile.read(by_words[words].path))
            assert card.run("paplay", "--device=site", str(wav)).returncode == 0
            assert listener.stdout.readline() == f"{words} | {answer}\n"
        assert listener.stdout.readline() == "lost blocks: 0\n"
        assert listener.wait(timeout=10) == 0
    finally:
        watchdog.cancel()
        listener.kill()
        listener.stdout.close()


def test_a_lost_microphone_is_told_and_found_again(card: Card) -> None:
    recorder = card.python(RECORDER)
    assert recorder.stdout is not None
    watchdog = threading.Timer(90, recorder.kill)
    watchdog.start()
    try:
        assert recorder.stdout.readline() == "sound comes\n"
        card.unplug()
        assert recorder.stdout.readline() == "The microphone default is gone; plug it in again.\n"
        assert recorder.stdout.readline() == "back within a second: False\n"
        card.plug()
        assert recorder.stdout.readline() == "back: True\n"
        assert recorder.stdout.readline() == "sound comes\n"
    finally:
        watchdog.cancel()
        recorder.kill()
        recorder.stdout.close()


@pytest.mark.slow
def test_the_talk_goes_on_when_a_microphone_comes_back(card: Card, tmp_path: Path) -> None:
    """`rodside` itself, at a terminal, by voice."""
    by_words = {r.words: r for r in recordings("clean")}
    theirs, ours = pty.openpty()
    command = [sys.executable, "-m", "assistant", "--quiet", "--book", str(tmp_path / "day.rodside")]
    talk = subprocess.Popen(
        command, env=card.world, cwd=ROOT, stdin=ours, stdout=subprocess.PIPE, stderr=subprocess.STDOUT, text=True
    )
    assert talk.stdout is not None
    watchdog = threading.Timer(120, talk.kill)
    watchdog.start()

    def until(words: str) -> str:
        assert talk.stdout is not None
        return next(line for line in iter(talk.stdout.readline, "") if words in line)

    def say(words: str) -> None:
        wav = tmp_path / "say.wav"
        soundfile.write(wav, *soundfile.read(by_words[words].path))
        assert card.run("paplay", "--device=site", str(wav)).returncode == 0

    try:
        until("Listening by")
        say("metric rod")
        assert until("Rod in").strip() == "Rod in metres."
        card.unplug()
        assert until("gone").strip() == "rodside: the microphone is gone. I wait for it to come back."
        card.plug()
        until("Listening by")
        say("stop listening")
        assert until("Stopped").strip() == "Stopped. Readings in the book: 0."
        assert talk.wait(timeout=10) == 0
    finally:
        watchdog.cancel()
        talk.kill()
        talk.stdout.close()
        os.close(theirs)
        os.close(ours)


def test_an_absent_microphone_says_what_to_do() -> None:
    with pytest.raises(SoundError, match="no microphone 'moon base'; here are:"):
        microphone.Microphone("moon base")


def test_no_microphone_at_all_offers_typing() -> None:
    if microphone.names():
        pytest.skip("there is a microphone here")
    with pytest.raises(SoundError, match="--typed"):
        microphone.Microphone()
