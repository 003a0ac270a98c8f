"""`rodside --lead` on a virtual card: talk beside the open microphone stays out."""

from __future__ import annotations

import time
from pathlib import Path

import pytest
import soundfile
from fixtures import aloud
from hearing.card import Card
from listening.talking import Talk

from assistant.hearing.lead import LEAD
from assistant.hearing.port import SAMPLE_RATE

WORDS = "what should i read at station sixty"


@pytest.mark.slow
def test_only_what_begins_with_the_lead_word_is_heard(card: Card, tmp_path: Path) -> None:
    talk = Talk(card, tmp_path / "day.rodside", "--no-audio", "--lead")
    try:
        assert talk.ready.wait(60)
        assert f"Begin with the word {LEAD}." in talk.all
        time.sleep(1)
        for text in (WORDS, f"{LEAD} {WORDS}"):
            wav = tmp_path / "said.wav"
            soundfile.write(wav, aloud(text), SAMPLE_RATE)
            assert card.run("paplay", "--device=site", str(wav)).returncode == 0
            until = time.monotonic() + (5 if text == WORDS else 20)
            while not talk.heard and time.monotonic() < until:
                time.sleep(0.05)
            assert talk.heard == ([] if text == WORDS else [WORDS])
    finally:
        talk.end()
