"""Rodside beside a person on one virtual card, its loudspeaker straight into its microphone: no echo is answered.

RODSIDE_DUPLEX_MINUTES makes it longer, and then it prints what it measured; the usual minute is only a taste.
"""

from __future__ import annotations

import os
import random
import subprocess
import time
from itertools import count, pairwise
from pathlib import Path

import numpy as np
import pytest
import soundfile
from fixtures import recordings
from hearing.card import Card
from listening.talking import Talk

from assistant.book.store import Book
from assistant.talk.session import Session

MINUTES = float(os.environ.get("RODSIDE_DUPLEX_MINUTES", "0.7"))
SAID = ("what should i read at station sixty", "never mind", "say again", "metric rod")
LOUD = 200
"""Samples over this are sound: nothing else plays on the card."""

ANSWER_WITHIN = 12.0


def sounds(path: Path) -> list[tuple[float, float]]:
    """Where there is sound, in seconds, pieces nearer than 0.45 s put together."""
    samples, rate = soundfile.read(path, dtype="int16")
    loud = np.flatnonzero(np.abs(samples) > LOUD) / rate
    ends = np.flatnonzero(np.diff(loud) > 0.45)
    return list(zip(loud[np.r_[0, ends + 1]], loud[np.r_[ends, len(loud) - 1]], strict=True))


@pytest.mark.slow
def test_its_own_voice_is_not_answered(card: Card, tmp_path: Path) -> None:
    by_words = {r.words: r for r in recordings("clean")}
    wavs = {words: tmp_path / f"{n}.wav" for n, words in enumerate(SAID) if words in by_words}
    for words, wav in wavs.items():
        soundfile.write(wav, *soundfile.read(by_words[words].path))
    tape = tmp_path / "tape.wav"
    record = ["parecord", "--device=site.monitor", "--rate=16000", "--channels=1", "--file-format=wav", str(tape)]
    with Book.open(tmp_path / "day.rodside") as book:
        session = Session(book)
        session.begin()
        for line in ("metric rod", "baseline 1.2 m at 0 m", "confirm", "line from 0 m falling two percent", "confirm"):
            session.utterance([line])
    recorder = subprocess.Popen(record, env=card.world)
    talk = Talk(card, tmp_path / "day.rodside", "--no-audio")
    dice = random.Random(3)
    said: list[tuple[str, float]] = []
    began = time.monotonic()
    try:
        assert talk.ready.wait(60)
        time.sleep(1)
        for number in count():
            if time.monotonic() - began > MINUTES * 60 and number >= 3:
                break
            words = list(wavs)[number % len(wavs)]
            before = len(talk.heard)
            assert card.run("paplay", "--device=site", str(wavs[words])).returncode == 0
            said.append((words, time.monotonic()))
            until = time.monotonic() + ANSWER_WITHIN
            while len(talk.heard) == before and time.monotonic() < until:
                time.sleep(0.05)
            time.sleep(0.5)
            time.sleep(2 + 0.09 * len(talk.told) + dice.uniform(0, 3))
    finally:
        talk.end()
        recorder.terminate()
        recorder.wait()
    minutes = (time.monotonic() - began) / 60
    assert len(talk.heard) <= len(said), (said, talk.heard)
    assert len(talk.heard) >= 0.9 * len(said), (said, talk.heard)
    if "RODSIDE_DUPLEX_MINUTES" in os.environ:
        pieces = sounds(tape)
        gaps = [after[0] - one[1] for one, after in pairwise(pieces)]
        waits = sorted(gap for gap in gaps if gap < 2.0)
        print(
            f"{minutes:.1f} minutes, {len(said)} said, {len(talk.heard)} heard, "
            f"{sum(a == b for (a, _), b in zip(said, talk.heard, strict=False))} right; "
            f"end of speech to first sound, {len(waits)} times: p50 {waits[len(waits) // 2]:.2f} s, "
            f"p95 {waits[int(len(waits) * 0.95)]:.2f} s, longest {waits[-1]:.2f} s"
        )
