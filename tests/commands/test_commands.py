"""The program as its user runs it: arguments, answers, statuses, and every bad input."""

import io
import json
import os
import stat
import subprocess
import sys
from collections.abc import Callable
from contextlib import redirect_stderr, redirect_stdout
from dataclasses import dataclass
from pathlib import Path

import numpy as np
import pytest
import soundfile
from fixtures import AUDIO, ROOT, shared

from assistant import cli
from assistant.environment import Environment, ExitStatus

DRAIN = [
    "rod in feet and inches",
    "baseline three foot nine at station zero",
    "confirm",
    "line from station zero falling two percent",
    "confirm",
]


@dataclass
class Ended:
    """What a command printed, and how it ended."""

    stdout: str
    stderr: str
    returncode: int


def rodside(*arguments: object, stdin: str = "") -> Ended:
    """A command, run within this process."""
    world = Environment(stdin=io.StringIO(stdin), stdout=io.StringIO(), stderr=io.StringIO())
    with redirect_stdout(world.stdout), redirect_stderr(world.stderr):  # argparse prints by itself
        try:
            status = cli.main([*map(str, arguments)], world)
        except SystemExit as end:
            status = int(end.code or 0)
    return Ended(world.stdout.getvalue(), world.stderr.getvalue(), status)  # type: ignore[attr-defined]


def program(*arguments: object, stdin: str = "") -> Ended:
    """The same as a program of its own."""
    done = subprocess.run(
        [sys.executable, "-m", "assistant", *map(str, arguments)],
        input=stdin,
        capture_output=True,
        text=True,
        cwd=ROOT,
        env={**os.environ, "PYTHONPATH": str(ROOT)},
        check=False,
    )
    return Ended(done.stdout, done.stderr, done.returncode)


def told(done: Ended) -> str:
    """The one line of an error, which is no trace of the program's inside."""
    assert "Traceback" not in done.stderr
    return done.stderr.splitlines()[-1]


@pytest.mark.parametrize(
    ("rod", "baseline", "reading", "shown", "spoken"),
    [
        (
            "rod in feet and inches",
            "three foot nine",
            "three feet nine",
            "3 ft 9 in at 0+40. Cut 9 5/8 in.",
            "Cut nine and five eighths inches.",
        ),
        (
            "rod in tenths",
            "three point seven five",
            "three seven five",
            "3.75 ft at 0+40. Cut 0.80 ft.",
            "Cut zero point eight zero feet.",
        ),
        (
            "rod in metres",
            "1.143",
            "1.143",
            "1.143 m at 40 m. Cut 800 mm.",
            "Cut eight hundred millimeters.",
        ),
    ],
)
def test_the_main_job(rod: str, baseline: str, reading: str, shown: str, spoken: str) -> None:
    done = rodside(
        "ask", "--json", rod, f"baseline {baseline} at station zero", "confirm",
        "line from station zero falling two percent", "confirm", f"reading {reading} at station forty",
    )  # fmt: skip
    assert done.returncode == ExitStatus.OK
    last = json.loads(done.stdout.splitlines()[-1])
    assert last["reply"] == shown
    assert last["spoken"].endswith(spoken)


def test_json_is_as_documented() -> None:
    done = rodside("ask", "--json", *DRAIN, "reading three feet nine at station forty", "potato")
    assert done.returncode == ExitStatus.NOT_UNDERSTOOD
    lines = [json.loads(line) for line in done.stdout.splitlines()]
    names = {"heard", "understood", "meaning", "reply", "spoken", "entries", "asks", "ms"}
    assert all(set(line) == names for line in lines)
    reading = lines[5]
    assert reading["meaning"] == {
        "kind": "reading",
        "length": {"amount": "15/4", "unit": "ft", "marking": "feet and inches", "step": "1/12"},
        "station": {"distance": {"amount": "40", "unit": "ft", "marking": "tenths of a foot", "step": "1"}},
    }
    (entry,) = reading["entries"]
    assert entry["kind"] == "reading"
    assert entry["payload"]["grade"] == {"kind": "cut", "amount_ft": "4/5"}
    assert entry["payload"]["grade_rod_ft"] == "91/20"
    assert set(reading["ms"]) == {"understand", "decide", "write"}
    assert [line["asks"] for line in lines[:3]] == [False, True, False]
    assert lines[6]["understood"] is False
    assert lines[6]["meaning"] == {"kind": "miss", "reason": "unknown word", "about": "potato"}


def test_a_book_goes_on_where_it_was(tmp_path: Path) -> None:
    book = tmp_path / "drain.rodside"
    first = rodside("ask", "--book", book, *DRAIN)
    assert "laser" in first.stderr  # the cautions, once, at the start of a job
    second = rodside("ask", "--book", book, "reading three foot nine at station forty")
    assert second.stderr == ""
    assert "Cut 9 5/8 in." in second.stdout
    table = rodside("book", book)
    assert [line.split()[2] for line in table.stdout.splitlines()[1:]] == [
        "opened", "rod", "question", "baseline", "question", "line", "reading",
    ]  # fmt: skip
    exported = rodside("export", book, "--format", "jsonl").stdout.splitlines()
    assert json.loads(exported[-1])["payload"]["reading"]["amount"] == "15/4"
    rodside("export", book, "-o", tmp_path / "drain.csv")
    assert (tmp_path / "drain.csv").read_bytes().count(b"\r\n") == len(exported) + 1


def test_a_book_is_verified_and_a_change_is_named(tmp_path: Path) -> None:
    book = tmp_path / "drain.rodside"
    rodside("ask", "--book", book, *DRAIN)
    done = rodside("verify", book)
    assert done.returncode == ExitStatus.OK
    head = json.loads(rodside("export", book, "--format", "jsonl").stdout.splitlines()[-1])["hash"]
    first, second = done.stdout.splitlines()
    assert first == f"{book}: 6 entries, unchanged. The last has the hash {head}."
    assert second.startswith("Its code, for a stake or a telephone: 6 ")
    book.write_bytes(book.read_bytes().replace(b"Baseline 3 ft 9 in at", b"Baseline 3 ft 8 in at"))
    done = rodside("verify", book)
    assert done.returncode == ExitStatus.NOT_UNDERSTOOD
    assert done.stdout.splitlines() == [f"{book}: entry 3 was changed.", f"{book}: entry 4 was changed."]


def test_an_open_question_outlives_the_program(tmp_path: Path) -> None:
    book = tmp_path / "drain.rodside"
    program("ask", "--book", book, *DRAIN[:2])
    done = program("ask", "--book", book, "confirm")
    assert "Baseline 3 ft 9 in at 0+00." in done.stdout


def test_lines_on_a_pipe(tmp_path: Path) -> None:
    lines = "\n".join([*DRAIN, "reading three feet nine at station forty", "stop listening", "confirm"])
    done = program("--book", tmp_path / "pipe.rodside", stdin=lines)
    assert done.returncode == ExitStatus.OK
    assert done.stdout.splitlines()[-2:] == [
        "3 ft 9 in at 0+40. Cut 9 5/8 in.",
        "Stopped. Readings in the book: 1.",
    ]


def test_the_demo_does_the_whole_job() -> None:
    done = rodside("demo", "--quiet")
    assert done.returncode == ExitStatus.OK, done.stdout
    for line in (
        "> reading four foot one at station forty\n  4 ft 1 in at 0+40. Cut 10 5/8 in.",
        "> scratch that\n  Scratched 4 ft 1 in at 0+40.",
        "> reading five foot two at station sixty\n  5 ft 2 in at 0+60. Cut 2 3/8 in.",
    ):
        assert line in done.stdout
    assert "reading (scratched)" in done.stdout


def test_hearing_a_file_answers_and_speaks(tmp_path: Path) -> None:
    sounds = [AUDIO / "demo" / f"{number:02}.ogg" for number in (1, 2, 3)]
    done = rodside("hear", *sounds, "--json", "--say-to", tmp_path / "said")
    assert done.returncode == ExitStatus.OK
    lines = [json.loads(line) for line in done.stdout.splitlines()]
    assert [line["heard"] for line in lines][2] == "confirm"
    assert [line["file"] for line in lines] == [str(sound) for sound in sounds]
    assert all("hear" in line["ms"] for line in lines)
    spoken = sorted((tmp_path / "said").iterdir())
    assert [path.name for path in spoken] == [f"answer-{n:03}.wav" for n in (1, 2, 3)]
    assert soundfile.info(spoken[1]).duration > 1.5


def test_a_bad_file_among_good_ones_loses_nothing(tmp_path: Path) -> None:
    bad = tmp_path / "notes.wav"
    bad.write_text("reading three foot nine")
    done = rodside("hear", AUDIO / "demo" / "01.ogg", bad, AUDIO / "demo" / "02.ogg")
    assert done.returncode == ExitStatus.SOUND
    assert "Rod in feet and inches." in done.stdout
    assert "Baseline 4 ft 2 in at 0+00. Say confirm." in done.stdout
    assert (
        told(done) == f"rodside: {bad} is not a sound file that can be read (WAV, FLAC or OGG): Format not recognised."
    )


def test_minutes_of_silence_hold_no_utterance(tmp_path: Path) -> None:
    path = tmp_path / "long.wav"
    with soundfile.SoundFile(path, "w", 8000, 2, "PCM_U8") as sound:
        for _ in range(3):
            sound.write(np.zeros((8000 * 60, 2)))
    done = rodside("hear", path)
    assert done.returncode == ExitStatus.NOT_UNDERSTOOD
    assert told(done) == f"rodside: nothing is said in {path}."


def test_what_is_no_book_is_refused(tmp_path: Path) -> None:
    text = tmp_path / "notes.txt"
    text.write_text("cut two feet")
    for command in (["ask", "confirm", "--book"], ["book"], ["export"]):
        for place in (text, tmp_path, tmp_path / "no" / "where"):
            done = rodside(*command, place)
            assert done.returncode == ExitStatus.BOOK
            assert told(done).startswith("rodside: ")
    assert text.read_text() == "cut two feet"


def test_a_file_that_cannot_be_written_to_is_told(tmp_path: Path) -> None:
    book = tmp_path / "drain.rodside"
    rodside("ask", "--book", book, "rod in tenths")
    done = rodside("export", book, "-o", tmp_path / "no" / "where.csv")
    assert done.returncode == ExitStatus.BOOK
    assert "cannot be written" in told(done)


def test_a_read_only_book_is_told(tmp_path: Path) -> None:
    book = tmp_path / "drain.rodside"
    rodside("ask", "--book", book, "rod in tenths")
    book.chmod(stat.S_IRUSR)
    tmp_path.chmod(stat.S_IRUSR | stat.S_IXUSR)
    try:
        if os.access(book, os.W_OK):
            pytest.skip("this user may write everywhere; the small disk of the book's tests shows it")
        done = rodside("ask", "--book", book, "rod in feet and inches")
        assert done.returncode == ExitStatus.BOOK
        assert "cannot be written" in told(done)
        assert "tenths" in rodside("book", book).stdout
    finally:
        tmp_path.chmod(stat.S_IRWXU)


@pytest.mark.parametrize(
    ("words", "reply"),
    [
        (
            "reading twenty seven foot at ten",
            "27 ft is more than the rod, 25 ft. Nothing was written. Read it again, or say how long the rod is.",
        ),
        (
            "reading fifteen inches at ten",
            "Fifteen inches is a foot or more. Say the feet and the inches.",
        ),
        (
            "reading three foot nine and nine eighths at ten",
            "Nine eighths is not a fraction of one inch.",
        ),
        ("reading three foot potato", "I do not know potato. Next, say a number, or at."),
        ("", "I did not catch that. Say it again."),
        ("\x00\x1b[31m", None),
        ("reading " + "nine " * 5000, None),
        ("𝟛 foot ½ 读数", None),
    ],
)
def test_impossible_readings_and_nonsense_are_not_written(words: str, reply: str | None) -> None:
    done = (
        rodside("ask", "--json", *DRAIN, words)
        if "\x00" not in words
        else program("--typed", "--book", "/dev/null/x", stdin=words)
    )
    assert "Traceback" not in done.stderr
    if reply is not None:
        last = json.loads(done.stdout.splitlines()[-1])
        assert last["reply"] == reply
        assert last["entries"] == []


@pytest.mark.parametrize("run", [rodside, program])
@pytest.mark.parametrize(
    ("arguments", "status"),
    [
        (["hear", "nothing.wav"], ExitStatus.SOUND),
        (["hear", "nothing.wav", "--ears", "vosk", "--model", "/nowhere"], ExitStatus.EARS),
        (["hear", "nothing.wav", "--ears", "sphinx", "--model", "/nowhere"], ExitStatus.EARS),
        (["ask"], ExitStatus.USAGE),
        (["hear", "--ears", "moon", "x.wav"], ExitStatus.USAGE),
    ],
)
def test_statuses(run: Callable[..., Ended], arguments: list[str], status: ExitStatus) -> None:
    done = run(*arguments)
    assert done.returncode == status
    assert "Traceback" not in done.stderr


def test_help_gives_the_cautions_and_the_statuses() -> None:
    done = rodside("--help")
    assert done.returncode == ExitStatus.OK
    for words in ("laser beam", "Call before you dig", "does not certify", "3 book"):
        assert words in done.stdout


def test_doctor_tells_every_part(tmp_path: Path) -> None:
    done = rodside("doctor")
    assert [line.split()[0] for line in done.stdout.splitlines()] == [
        "microphone", "loudspeaker", "voice", "ears", "book", "disk",
    ]  # fmt: skip
    assert "139 of 139 words" not in done.stderr
    assert ("FAILS" in done.stdout) == (done.returncode == ExitStatus.NOT_UNDERSTOOD)


def test_another_model_is_used(tmp_path: Path) -> None:
    model = shared("voice_model", "model")
    done = rodside("hear", AUDIO / "demo" / "03.ogg", "--model", model)
    assert done.stdout.startswith("> confirm")
