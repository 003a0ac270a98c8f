"""Voices speak, at a pace at which figures can be copied down, and their absence is told once."""

import shutil
import threading
from collections.abc import Callable
from pathlib import Path

import numpy as np
import pytest
import soundfile

from assistant.speaking import espeak, mouth, neural, voices
from assistant.speaking.port import Speech, Voice, VoiceError, to_wav
from assistant.speaking.signals import GAP, SHORT, Signal, sounded

SENTENCE = "Three foot nine inches at station forty. Cut nine and five eighths inches."


@pytest.mark.parametrize("name", voices.VOICES)
def test_a_voice_speaks_unhurried(name: str) -> None:
    if name == "espeak" and shutil.which("espeak-ng") is None:
        pytest.skip("the program espeak-ng is not installed")
    speech = voices.open_voice(name).say(SENTENCE)
    assert speech.samples.dtype == np.int16
    assert np.abs(speech.samples).max() > 3000
    words_a_minute = len(SENTENCE.split()) / speech.seconds * 60
    assert 95 <= words_a_minute <= 145


@pytest.mark.parametrize("name", voices.VOICES)
def test_longer_sentences_take_longer(name: str) -> None:
    if name == "espeak" and shutil.which("espeak-ng") is None:
        pytest.skip("the program espeak-ng is not installed")
    voice = voices.open_voice(name)
    assert voice.say(SENTENCE).seconds > 2 * voice.say("Cut two inches.").seconds


def test_a_long_answer_is_spoken_in_pieces_and_no_word_is_lost(monkeypatch: pytest.MonkeyPatch) -> None:
    """As much at a time, from pause to pause, as the network speaks well; here a letter is a sample."""
    import hibari

    spoken: list[str] = []

    class Spells:
        sample_rate = 16_000

        def __call__(self, text: str, **_: object) -> np.ndarray:  # type: ignore[type-arg]
            spoken.append(text)
            return np.full(len(text), 0.25)

    monkeypatch.setattr(hibari, "Hibari", Spells)
    long = "Five foot two at sixty, cut two and three eighths. Four foot eleven at forty, on grade; that is all of it."
    speech = voices.open_voice("neural").say(long)
    assert " ".join(spoken) == long
    assert len(spoken) == 2 and all(len(piece) <= neural.LONGEST_PIECE for piece in spoken)
    assert len(speech.samples) == len(long) - 1 and (speech.samples == round(0.25 * 32767)).all()
    spoken.clear()
    voices.open_voice("neural").say("Confirm")
    assert spoken == ["Confirm"]


def test_speech_is_written_as_wav(tmp_path: Path) -> None:
    speech = Speech(np.arange(-500, 500, dtype=np.int16), 22050)
    to_wav(tmp_path / "answer.wav", speech)
    samples, rate = soundfile.read(tmp_path / "answer.wav", dtype="int16")
    assert rate == 22050
    assert np.array_equal(samples, speech.samples)


def test_without_the_program_the_library_speaks(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(shutil, "which", lambda name: None)
    with pytest.raises(VoiceError, match="espeak-ng is not here"):
        espeak.EspeakProgram()
    monkeypatch.setattr(voices, "VOICES", {"a": espeak.EspeakProgram, "b": espeak.EspeakLibrary})
    assert voices.open_voice().name == "espeak-ng library"


def test_without_any_voice_each_lack_is_told(monkeypatch: pytest.MonkeyPatch) -> None:
    def broken() -> Voice:
        raise VoiceError("It is broken.")

    monkeypatch.setattr(voices, "VOICES", {"a": broken, "b": broken})
    with pytest.raises(VoiceError, match=r"It is broken\. It is broken\."):
        voices.open_voice()


@pytest.mark.parametrize("where", ["voice", "outlet"])
def test_a_lack_is_told_once_and_the_talk_goes_on(monkeypatch: pytest.MonkeyPatch, where: str) -> None:
    def broken(*_: object) -> None:
        raise VoiceError("There is no sound here.")

    if where == "voice":
        monkeypatch.setattr(mouth, "open_voice", broken)
    told: list[str] = []
    outlet: Callable[[Speech], None] = broken if where == "outlet" else lambda speech: None
    quiet = mouth.Mouth(told.append, outlet)
    for _ in range(3):
        quiet.say("Cut two inches.")
    assert told == ["There is no sound here. The answers are only shown, until it works again."]


def test_a_loudspeaker_that_was_busy_or_unplugged_is_tried_again_with_the_next_answer() -> None:
    told: list[str] = []
    played: list[Speech] = []
    troubles = [False, True, True, False, True]

    def outlet(speech: Speech) -> None:
        if troubles.pop(0):
            raise VoiceError("The loudspeaker does not play (Device unavailable).")
        played.append(speech)

    speaker = mouth.Mouth(told.append, outlet)
    for _ in range(5):
        speaker.say("Cut two inches.")
    lost = "The loudspeaker does not play (Device unavailable). The answers are only shown, until it works again."
    assert told == [lost, "The answers are spoken again.", lost] and len(played) == 2


def beats(signal: Signal) -> list[float]:
    """The seconds of each sound of a signal, by its loudness alone."""
    speech = sounded(signal, 16_000)
    loud = np.abs(speech.samples.astype(float).reshape(-1, 80)).mean(axis=1) > 500
    edges = np.flatnonzero(np.diff(np.r_[0, loud, 0]))
    return [round(float(end - start) * 0.005, 2) for start, end in zip(edges[::2], edges[1::2], strict=True)]


def test_signals_differ_in_rhythm() -> None:
    rhythms = {signal: beats(signal) for signal in Signal}
    assert [len(rhythm) for rhythm in rhythms.values()] == [1, 2, 3]
    assert rhythms[Signal.LISTENING][0] > 3 * rhythms[Signal.UNDERSTOOD][0]


def test_a_signal_sounds_while_the_voice_is_still_at_work() -> None:
    played: list[Speech] = []
    ready = threading.Event()

    class Slow:
        name = "slow"

        def say(self, text: str) -> Speech:
            assert ready.wait(5)
            return Speech(np.zeros(100, np.int16), 8000)

    def outlet(speech: Speech) -> None:
        played.append(speech)
        ready.set()

    speaker = mouth.Mouth(lambda _: None, outlet)
    speaker._voice = Slow()
    speaker.say("Cut two inches.", Signal.UNDERSTOOD)
    assert [speech.rate for speech in played] == [mouth.SIGNAL_RATE, 8000]
    assert played[0].seconds == pytest.approx(2 * (SHORT + GAP), abs=0.001)
    speaker.say("", Signal.UNDERSTOOD)
    assert len(played) == 2


def test_what_was_hushed_in_its_signal_is_not_spoken() -> None:
    played: list[Speech] = []
    speaker = mouth.Mouth(lambda _: None, lambda speech: (played.append(speech), speaker.hush())[0])
    speaker.say("Cut two inches.", Signal.UNDERSTOOD)
    assert [speech.rate for speech in played] == [mouth.SIGNAL_RATE]
    speaker.say("Cut two inches.")
    assert len(played) == 2
