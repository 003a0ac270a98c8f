"""Sound files of every usual kind are read; every other file is refused in one sentence."""

import struct
from pathlib import Path

import numpy as np
import pytest
import soundfile

from assistant.hearing import sources
from assistant.hearing.port import SAMPLE_RATE
from assistant.hearing.sources import SoundError, blocks

SECONDS = 2.0


def tone(rate: int, channels: int = 1) -> np.ndarray:
    time = np.arange(int(SECONDS * rate)) / rate
    return np.repeat((0.5 * np.sin(2 * np.pi * 440 * time))[:, None], channels, axis=1)


@pytest.mark.parametrize("rate", [8000, 16000, 44100, 48000])
@pytest.mark.parametrize("channels", [1, 2])
@pytest.mark.parametrize(
    ("ending", "subtype"),
    [
        ("wav", "PCM_U8"),
        ("wav", "PCM_16"),
        ("wav", "PCM_24"),
        ("wav", "PCM_32"),
        ("wav", "FLOAT"),
        ("flac", "PCM_16"),
        ("ogg", "VORBIS"),
    ],
)
def test_sound_of_every_kind_is_one_channel_at_one_rate(
    tmp_path: Path, rate: int, channels: int, ending: str, subtype: str
) -> None:
    path = tmp_path / f"tone.{ending}"
    soundfile.write(path, tone(rate, channels), rate, subtype=subtype)
    sound = np.concatenate(list(blocks(path)))
    assert sound.dtype == np.int16
    assert len(sound) == pytest.approx(SECONDS * SAMPLE_RATE, rel=0.01)
    middle = sound[SAMPLE_RATE // 2 : -SAMPLE_RATE // 2].astype(float)
    spectrum = np.abs(np.fft.rfft(middle))
    assert np.argmax(spectrum) / len(middle) * SAMPLE_RATE == pytest.approx(440, abs=2)
    assert np.max(middle) == pytest.approx(0.5 * 32767, rel=0.05)


def test_a_long_file_is_read_in_small_blocks(tmp_path: Path) -> None:
    path = tmp_path / "long.wav"
    with soundfile.SoundFile(path, "w", 48000, 2, "PCM_16") as sound:
        minute = np.zeros((48000 * 60, 2), np.int16)
        for _ in range(10):
            sound.write(minute)
    total = 0
    for block in blocks(path):
        assert len(block) <= SAMPLE_RATE
        total += len(block)
    assert total == pytest.approx(600 * SAMPLE_RATE, rel=0.001)


def make_missing(path: Path) -> None:
    pass


def make_folder(path: Path) -> None:
    path.mkdir()


def make_text(path: Path) -> None:
    path.write_text("reading three foot nine")


def make_empty(path: Path) -> None:
    path.touch()


def make_silent_header(path: Path) -> None:
    soundfile.write(path, np.zeros(0), SAMPLE_RATE)


def make_cut_header(path: Path) -> None:
    soundfile.write(path, tone(16000), 16000)
    path.write_bytes(path.read_bytes()[:20])


def make_noise(path: Path) -> None:
    path.write_bytes(np.random.default_rng(0).bytes(5000))


def test_a_file_without_a_header_is_refused(tmp_path: Path) -> None:
    path = tmp_path / "sound.raw"
    make_noise(path)
    with pytest.raises(SoundError, match="does not say what sound it holds"):
        list(blocks(path))


def test_what_is_no_number_is_silence(tmp_path: Path) -> None:
    path = tmp_path / "sound.wav"
    values = np.array([np.nan, np.inf, -np.inf, 0.5], np.float32).repeat(4000)
    soundfile.write(path, values, SAMPLE_RATE, subtype="FLOAT")
    sound = np.concatenate(list(blocks(path)))
    assert [int(sound[at]) for at in (2000, 6000, 10000)] == [0, 32767, -32767]


@pytest.mark.parametrize(
    ("ending", "form", "kind"), [("wav", "WAV", "PCM_16"), ("flac", "FLAC", "PCM_16"), ("ogg", "OGG", "OPUS")]
)
def test_a_damaged_file_is_read_or_refused_but_never_breaks(tmp_path: Path, ending: str, form: str, kind: str) -> None:
    dice = np.random.default_rng(2)
    good = tmp_path / f"good.{ending}"
    soundfile.write(good, 0.1 * dice.normal(size=8000), SAMPLE_RATE, format=form, subtype=kind)
    whole = good.read_bytes()
    path = tmp_path / f"bad.{ending}"
    for _ in range(60):
        data = bytearray(whole)
        for at in dice.integers(0, min(len(data), 60), 3):
            data[at] = dice.integers(0, 256)
        path.write_bytes(data)
        try:
            assert all(len(block) <= 60 * SAMPLE_RATE for block in blocks(path))
        except SoundError as refused:
            assert "\n" not in str(refused)


@pytest.mark.parametrize(
    "make",
    [
        make_missing,
        make_folder,
        make_text,
        make_empty,
        make_silent_header,
        make_cut_header,
        make_noise,
    ],
)
def test_what_is_no_sound_is_refused(tmp_path: Path, make) -> None:  # type: ignore[no-untyped-def]
    path = tmp_path / "sound.wav"
    make(path)
    with pytest.raises(SoundError) as refused:
        list(blocks(path))
    assert str(path) in str(refused.value)
    assert "\n" not in str(refused.value)


def test_a_recording_that_breaks_off_is_heard_as_far_as_it_goes_and_told(tmp_path: Path) -> None:
    path = tmp_path / "cut.wav"
    soundfile.write(path, tone(16000), 16000)
    path.write_bytes(path.read_bytes()[:20_044])
    heard = blocks(path)
    sound: list[int] = []
    with pytest.raises(SoundError, match=r"breaks off at 0:00, and what was being said there was not taken"):
        sound.extend(len(block) for block in heard)
    assert sum(sound) == pytest.approx(10_000, abs=200)


def test_flac_that_breaks_off_is_heard_and_told(tmp_path: Path) -> None:
    path = tmp_path / "cut.flac"
    noise = 0.1 * np.random.default_rng(0).normal(size=10 * SAMPLE_RATE)
    soundfile.write(path, noise, SAMPLE_RATE)
    path.write_bytes(path.read_bytes()[: path.stat().st_size // 2])
    sound: list[int] = []
    with pytest.raises(SoundError, match=r"breaks off at 0:0[45]"):
        sound.extend(len(block) for block in blocks(path))
    assert sum(sound) >= 4 * SAMPLE_RATE


def patched(path: Path, at: int, form: str, *values: int) -> Path:
    """A WAV file with a number of its header changed."""
    data = bytearray(path.read_bytes())
    struct.pack_into(form, data, at, *values)
    path.write_bytes(data)
    return path


def test_a_header_that_does_not_know_its_length_is_no_break(tmp_path: Path) -> None:
    path = tmp_path / "streamed.wav"
    soundfile.write(path, tone(16000), 16000)
    for length in (0xFFFFFFFF, 0x7FFFFFFF):
        heard = blocks(patched(path, 40, "<I", length))
        assert sum(map(len, heard)) == pytest.approx(SECONDS * SAMPLE_RATE, rel=0.01)


@pytest.mark.parametrize("rate", [1, 3_999, 400_001, 2**31 - 1])
def test_a_rate_that_nothing_records_is_refused(tmp_path: Path, rate: int) -> None:
    path = tmp_path / "rate.wav"
    soundfile.write(path, tone(16000), 16000)
    with pytest.raises(SoundError, match="samples a second"):
        next(blocks(patched(path, 24, "<I", rate)))


def test_channels_without_end_are_refused(tmp_path: Path) -> None:
    path = tmp_path / "channels.wav"
    soundfile.write(path, tone(16000, 33), 16000)
    with pytest.raises(SoundError, match="33 channels"):
        next(blocks(path))


@pytest.mark.parametrize(("longest", "values"), [(3, 10**9), (1000, 3 * 2 * 8000)])
def test_a_file_is_heard_to_the_longest_and_no_further(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, longest: int, values: int
) -> None:
    monkeypatch.setattr(sources, "LONGEST", longest)
    monkeypatch.setattr(sources, "MOST_VALUES", values)
    path = tmp_path / "long.flac"
    soundfile.write(path, np.tile(tone(8000, 2), (2, 1)), 8000)  # 4 seconds
    heard = 0
    with pytest.raises(SoundError, match=r"too long: it was heard to 0:03, .* not taken\. Cut it at pauses"):
        for block in blocks(path):
            heard += len(block)
    assert heard == pytest.approx(3 * SAMPLE_RATE, abs=0.1 * SAMPLE_RATE)
    soundfile.write(path, np.tile(tone(8000, 2), (2, 1))[: 3 * 8000], 8000)
    assert sum(map(len, blocks(path))) == pytest.approx(3 * SAMPLE_RATE, rel=0.01)


@pytest.mark.parametrize(("seconds", "shown"), [(0, "0:00"), (59.9, "0:59"), (750, "12:30"), (14_400, "4:00:00")])
def test_places_in_a_sound_are_told_by_the_clock(seconds: float, shown: str) -> None:
    assert sources.clock(seconds) == shown
