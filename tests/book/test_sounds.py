"""The sound of an entry is kept as it was, or said not to be."""

import hashlib
import io
import os
import random
import time
from datetime import UTC, datetime
from pathlib import Path

import numpy as np
import pytest
import soundfile
from books import clock
from fixtures import AUDIO

from assistant import cli
from assistant.book.entries import Entry
from assistant.book.errors import BookError
from assistant.book.sounds import NoSound, Sounds, forget_old
from assistant.book.store import Book
from assistant.environment import Environment, ExitStatus
from assistant.settings import BadSettings, Settings, read
from assistant.talk.session import Session


def noise(seed: int, seconds: float = 0.2) -> np.ndarray:  # type: ignore[type-arg]
    return np.random.default_rng(seed).integers(-9000, 9000, int(16_000 * seconds), dtype=np.int16)


def spoken_book(path: Path) -> Path:
    """A book of four spoken entries."""
    sounds = Sounds(path)
    with Book.open(path, clock) as book:
        for number in range(4):
            audio = sounds.keep(noise(number), 16_000)
            entry = Entry("rod", {"marking": "metres"})
            book.append([entry], heard="rod in metres", engine="vosk", audio=audio, reply="Rod in metres.")
    return path


def world(tmp_path: Path, stdin: str = "") -> Environment:
    places = {"books": tmp_path / "books", "settings": tmp_path / "settings.toml"}
    return Environment(stdin=io.StringIO(stdin), stdout=io.StringIO(), stderr=io.StringIO(), clock=clock, **places)


def verified(path: Path, tmp_path: Path, *more: str) -> tuple[int, str]:
    outside = world(tmp_path)
    status = cli.main(["verify", str(path), *more], outside)
    assert isinstance(outside.stdout, io.StringIO) and isinstance(outside.stderr, io.StringIO)
    return status, outside.stdout.getvalue() + outside.stderr.getvalue()


def test_a_sound_comes_back_sample_by_sample(path: Path) -> None:
    spoken_book(path)
    with Book.open(path, clock) as book:
        rows = list(book.rows())
    for number, row in enumerate(rows):
        samples, rate = Sounds(path).read(row)
        assert rate == 16_000
        assert (samples == noise(number)).all()
        file = Sounds(path).folder / f"{row.audio}.flac"
        assert hashlib.sha256(file.read_bytes()).hexdigest() == row.audio
        assert soundfile.info(file).format == "FLAC"


def test_only_what_is_written_is_kept(path: Path) -> None:
    kept = []
    with Book.open(path, clock) as book:
        session = Session(book, lambda samples: kept.append(len(samples)) or "a" * 64)  # type: ignore[func-returns-value]
        session.utterance(["rod in metres"], engine="vosk", sound=noise(1))
        session.utterance(["where are we"], engine="vosk", sound=noise(2))
        session.utterance(["rod in metres"])
        assert [row.audio for row in book.rows()] == ["a" * 64, None]
    assert kept == [len(noise(1))]


def test_a_sound_that_is_missing_changed_or_none_is_named(path: Path, tmp_path: Path) -> None:
    spoken_book(path)
    assert verified(path, tmp_path)[0] == ExitStatus.OK
    with Book.open(path, clock) as book:
        rows = list(book.rows())
    files = [Sounds(path).folder / f"{row.audio}.flac" for row in rows]
    files[1].unlink()
    files[2].write_bytes(files[2].read_bytes()[:-1])
    status, said = verified(path, tmp_path)
    assert status == ExitStatus.NOT_UNDERSTOOD
    assert "the sound of entry 2 is missing" in said
    assert "the sound of entry 3 was changed" in said
    assert "entry 1" not in said and "entry 4" not in said
    with pytest.raises(NoSound, match="entry 3 was changed"):
        Sounds(path).read(rows[2])
    with pytest.raises(NoSound, match="Entry 9 was not spoken"):
        Sounds(path).read(rows[0]._replace(sequence=9, audio=None))
    files[2].write_bytes(b"")
    assert verified(path, tmp_path, "--without-audio")[0] == ExitStatus.OK


@pytest.mark.parametrize("name", ["../../etc/passwd", "", "A" * 64, "a" * 63])
def test_no_entry_leads_out_of_the_folder(path: Path, name: str) -> None:
    with Book.open(path, clock) as book:
        (row,) = book.append([Entry("a", {})], heard=None, engine=None, audio=name, reply="")
    assert list(Sounds(path).findings([row])) == ["the sound of entry 1 has no name of a sound"]


def test_old_sounds_are_removed_and_young_ones_stay(path: Path) -> None:
    spoken_book(path)
    files = sorted(Sounds(path).folder.iterdir())
    old = time.time() - 40 * 86_400
    os.utime(files[0], (old, old))
    assert forget_old(path.parent, 30, datetime.now(UTC)) == 1
    assert sorted(Sounds(path).folder.iterdir()) == files[1:]


def test_a_sound_that_cannot_be_kept_does_not_cost_the_entry(path: Path, tmp_path: Path) -> None:
    from assistant.commands.opening import keeper

    outside = world(tmp_path)
    keep = keeper(path, None, outside)
    assert keep is not None
    Sounds(path).folder.write_text("a file where the folder would be")
    with Book.open(path, clock) as book:
        Session(book, keep).utterance(["rod in metres"], engine="vosk", sound=noise(1))
        assert [row.audio for row in book.rows()] == [None]
    assert "the sound was not kept" in outside.stderr.getvalue()  # type: ignore[attr-defined]


@pytest.mark.parametrize(
    ("flag", "setting", "kept"),
    [
        ([], "", True),
        (["--no-audio"], "", False),
        ([], "keep_audio = false\n", False),
        (["--keep-audio"], "keep_audio = false\n", True),
    ],
)
def test_sound_is_kept_unless_it_is_turned_off(tmp_path: Path, flag: list[str], setting: str, kept: bool) -> None:
    outside, book = world(tmp_path), tmp_path / "day.rodside"
    if setting:
        outside.settings.write_text(setting)
    recording = sorted((AUDIO / "demo").glob("*.ogg"))[0]
    cli.main(["hear", str(recording), "--book", str(book), *flag], outside)
    told = "--no-audio" in outside.stderr.getvalue()  # type: ignore[attr-defined]
    with Book.open(book, clock) as opened:
        spoken = [row for row in opened.rows() if row.engine]
    assert spoken
    assert all((row.audio is not None) == kept for row in spoken)
    assert told == kept
    again = world(tmp_path)
    cli.main(["hear", str(recording), "--book", str(book), *flag], again)
    assert "--no-audio" not in again.stderr.getvalue()  # type: ignore[attr-defined]
    if kept:
        output = tmp_path / "one.wav"
        played = world(tmp_path)
        assert cli.main(["play", str(book), str(spoken[0].sequence), "-o", str(output)], played) == ExitStatus.OK
        assert soundfile.info(output).samplerate == 16_000
        assert (spoken[0].heard or "") in played.stdout.getvalue()  # type: ignore[attr-defined]
    assert cli.main(["play", str(book), "99"], world(tmp_path)) == ExitStatus.BOOK


@pytest.mark.parametrize("text", ["keep_audio = 1", "audio_days = true", "audio_days = -1", "other = 2", "keep_audio"])
def test_a_bad_setting_is_told(tmp_path: Path, text: str) -> None:
    (tmp_path / "settings.toml").write_text(text)
    with pytest.raises(BadSettings, match=r"settings\.toml"):
        read(tmp_path / "settings.toml")


def test_settings_are_read(tmp_path: Path) -> None:
    assert read(tmp_path / "none.toml") == Settings(True, 0)
    (tmp_path / "settings.toml").write_text("keep_audio = false\naudio_days = 30\n")
    assert read(tmp_path / "settings.toml") == Settings(False, 30)


ROUNDS = int(os.environ.get("RODSIDE_CHANGES", "300"))


def day_with_sounds(path: Path) -> Path:
    """A real little job, spoken."""
    sounds, dice = Sounds(path), iter(range(100))
    with Book.open(path, clock) as book:
        session = Session(book, lambda samples: sounds.keep(samples, 16_000))
        session.begin()
        for words in ("rod in tenths", "benchmark 100", "confirm", "backsight 4.00", "confirm", "reading 3.9 at 10",
                      "line from station zero at elevation 99 falling one percent", "confirm", "reading 5.2 at 20",
                      "reading 5.4 at 30", "scratch that", "foresight 5.00", "confirm"):  # fmt: skip
            session.utterance([words], engine="vosk", sound=noise(next(dice)))
    return path


def test_every_changed_byte_and_every_cut_of_book_and_sounds_is_found(path: Path, tmp_path: Path) -> None:
    """Random single bytes, and a tenth as many cuts, all over the file of the book and its sounds."""
    day_with_sounds(path)
    assert verified(path, tmp_path)[0] == ExitStatus.OK
    places = [path, *sorted(Sounds(path).folder.iterdir())]
    whole = [place.read_bytes() for place in places]
    entry_of = {row.audio: row.sequence for row in _rows(path)}
    dice, named = random.Random(11), 0
    for number in range(ROUNDS + ROUNDS // 10):
        which = dice.choices(range(len(places)), [3 * len(places), *[1] * (len(places) - 1)])[0]
        content, place = bytearray(whole[which]), places[which]
        at = dice.randrange(len(content))
        if number < ROUNDS:
            content[at] = (content[at] + dice.randrange(1, 256)) % 256
        else:
            del content[at:]
        place.write_bytes(bytes(content))
        status, said = verified(path, tmp_path)
        assert status != ExitStatus.OK or "was last written by SQLite" in said, (place.name, at)
        if which:
            assert f"the sound of entry {entry_of[place.stem]} was changed" in said
        named += "entry" in said or "entries" in said
        place.write_bytes(whole[which])
    assert verified(path, tmp_path)[0] == ExitStatus.OK
    assert named > 0.9 * ROUNDS


def _rows(path: Path) -> list:  # type: ignore[type-arg]
    with Book.open(path, clock, read_only=True) as book:
        return list(book.rows())


def test_a_code_that_was_written_down_tells_a_book_that_was_begun_anew(path: Path, tmp_path: Path) -> None:
    day_with_sounds(path)
    _, said = verified(path, tmp_path)
    code = said.split("telephone: ")[1].split(" (")[0]
    assert verified(path, tmp_path, "--code", code.lower())[0] == ExitStatus.OK
    status, said = verified(spoken_book(tmp_path / "other"), tmp_path, "--code", code)
    assert status == ExitStatus.NOT_UNDERSTOOD and "does not begin as the code" in said
    assert verified(path, tmp_path, "--code", "x")[0] == ExitStatus.NOT_UNDERSTOOD


def test_a_sum_that_does_not_follow_is_named(path: Path, tmp_path: Path) -> None:
    """An entry whose chain is right and whose arithmetic is not: written so, not changed afterwards."""
    day_with_sounds(path)
    rows = _rows(path)
    reading = next(row for row in rows if row.kind == "reading" and row.payload["grade"])
    wrong = {**reading.payload, "grade": {"kind": "cut", "amount_ft": "1/3"}, "elevation_ft": "7"}
    with Book.open(tmp_path / "wrong", clock) as book:
        for row in rows:
            payload = wrong if row.sequence == reading.sequence else row.payload
            book.append([Entry(row.kind, payload)], heard=row.heard, engine=row.engine, audio=None, reply=row.reply)
    status, said = verified(tmp_path / "wrong", tmp_path)
    assert status == ExitStatus.NOT_UNDERSTOOD
    assert f"entry {reading.sequence}: the cut or fill does not follow" in said
    assert f"entry {reading.sequence}: the elevation does not follow" in said


def test_nothing_is_kept_in_a_folder_that_cannot_be(path: Path) -> None:
    Sounds(path).folder.write_text("")
    with pytest.raises(BookError):
        Sounds(path).keep(noise(0), 16_000)
