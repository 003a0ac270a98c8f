"""How fast, and how much memory. Figures of one machine: compare them as ratios within one run."""

from __future__ import annotations

import resource
import subprocess
import sys
import tempfile
from collections.abc import Callable, Iterator, Sequence
from importlib.resources import as_file, files
from pathlib import Path
from time import perf_counter, process_time, sleep

import numpy as np

from assistant.book.entries import Entry
from assistant.book.store import Book
from assistant.book.verify import findings
from assistant.environment import now
from assistant.grade import earthwork
from assistant.hearing.endpoint import Timing
from assistant.hearing.port import SAMPLE_RATE, Ear, Samples
from assistant.hearing.sources import blocks
from assistant.job.state import Job
from assistant.speaking.port import Voice, VoiceError
from assistant.speaking.voices import open_voice
from assistant.talk.listening import language, listen
from assistant.talk.session import Session
from grammar.phrases import sample
from grammar.understand import Context, understand

SET_UP = (
    "rod in feet and inches",
    "baseline four foot two at station zero",
    "confirm",
    "line from station zero falling two percent",
    "confirm",
)
REPLAYED = 100_000

Line = tuple[str, str, str]
"""What was measured, the figure, and the budget or a remark."""


def typed() -> Iterator[Line]:
    """From a typed line to its answer, in a running session and from cold."""
    with tempfile.TemporaryDirectory() as folder, Book.open(Path(folder) / "bench.rodside", now) as book:
        session = Session(book)
        for words in SET_UP:
            session.utterance([words])
        spent = []
        for number in range(300):
            began = perf_counter()
            session.utterance([f"reading four foot six at {20 + number}"])
            spent.append(perf_counter() - began)
    yield "typed line to durable answer, p50", ms(spent, 50), ""
    yield "typed line to durable answer, p95", ms(spent, 95), "budget 10 ms"
    cold = []
    for _ in range(5):
        began = perf_counter()
        subprocess.run(
            [
                sys.executable,
                "-m",
                "assistant",
                "ask",
                "how much fall in sixty feet at two percent",
            ],
            check=True,
            capture_output=True,
        )
        cold.append(perf_counter() - began)
    yield "`ask` from cold, median of 5", ms(cold, 50), "budget 500 ms"


def parsing() -> Iterator[Line]:
    """Sentences understood in a second."""
    sentences = list(sample(10_000, 1))
    context = Context()
    began = perf_counter()
    for sentence in sentences:
        understand(sentence, context)
    spent = perf_counter() - began
    yield "parse of 10,000 sentences", f"{spent:.2f} s", f"{spent / 10:.2f} ms a sentence"


def volumes() -> Iterator[Line]:
    """Cut and fill of a large grid of rolling ground, with the zero line across it many times."""
    along = np.arange(GRID) / 40
    depths = np.sin(along)[:, None] + np.cos(0.7 * along)[None, :]
    earthwork.of_grid(depths[:2, :2], 10.0, 10.0)
    began = perf_counter()
    earthwork.of_grid(depths, 10.0, 10.0)
    yield f"cut and fill of {GRID:,} by {GRID:,} points", f"{(perf_counter() - began) * 1000:.0f} ms", "budget 100 ms"


GRID = 1000


def replay() -> Iterator[Line]:
    """A book of many readings opened again, and its chain verified."""
    with Book.scratch(now) as scratch:
        session = Session(scratch)
        for words in SET_UP:
            session.utterance([words])
        reading = session.utterance(["reading four foot six at station twenty"]).rows[0]
        many = [Entry("reading", reading.payload)] * REPLAYED
        scratch.append(many, heard="", engine="typed", audio=None, reply="")
        began = perf_counter()
        job = Job.folded(scratch.rows())
        yield (
            f"replay of {job.reading_count:,} readings",
            f"{perf_counter() - began:.2f} s",
            "budget 1 s",
        )
        began = perf_counter()
        assert not list(findings(scratch.rows()))
        yield f"verify of {job.reading_count:,} readings", f"{perf_counter() - began:.2f} s", ""


def listening(open_one: Callable[[], Ear]) -> Iterator[Line]:
    """An ear over the bundled demo: load, decode and answer, after the end of the utterance is known."""
    began = perf_counter()
    ear = open_one()
    with Book.scratch(now) as book:
        session = Session(book)
        ear.prepare(language(session.context))
        ear.hear(np.zeros(SAMPLE_RATE, np.int16), language(session.context))
        yield f"{ear.name}: start to listening", f"{perf_counter() - began:.2f} s", "budget 1.5 s"
        voice = _voice()
        waits, decoded, seconds = [], 0.0, 0.0
        for sound in demo():
            began = process_time()
            ear.hear(sound, language(session.context))
            decoded += process_time() - began
            seconds += len(sound) / SAMPLE_RATE
            source = _Live(sound)
            for outcome in listen(session, ear, source.blocks()):
                if voice is not None:
                    voice.say(outcome.reply.spoken.partition(".")[0])
                waits.append(source.late())
    tail = Timing().tail
    yield (
        f"{ear.name}: end of the tail to first sound of the answer, p50",
        ms(waits, 50),
        f"the tail is {tail} s",
    )
    yield f"{ear.name}: end of the tail to first sound of the answer, p95", ms(waits, 95), "budget 150 ms"
    yield f"{ear.name}: CPU a second of speech", f"{decoded / seconds:.3f} s", "budget 0.1 s"
    yield f"{ear.name}: most memory of this process", f"{peak_mb():.0f} MB", "budget 200 MB"


def _voice() -> Voice | None:
    try:
        voice = open_voice()
    except VoiceError:
        return None
    voice.say("ready")
    return voice


def demo() -> Iterator[Samples]:
    """The recordings of the demo, each with near silence after it."""
    with as_file(files("audio_fixtures") / "demo") as folder:
        for path in sorted(folder.glob("*.ogg")):
            sound = np.concatenate(list(blocks(path)))
            yield np.concatenate([sound, np.resize(sound[: SAMPLE_RATE // 4], SAMPLE_RATE)])


class _Live:
    """A recording that comes as from a microphone: no block earlier than it would be spoken."""

    SIZE = SAMPLE_RATE // 20

    def __init__(self, sound: Samples) -> None:
        self._sound = sound
        self._given = 0
        self._began = 0.0

    def blocks(self) -> Iterator[Samples]:
        self._began = perf_counter()
        for start in range(0, len(self._sound), self.SIZE):
            self._given = min(start + self.SIZE, len(self._sound))
            wait = self._began + self._given / SAMPLE_RATE - perf_counter()
            if wait > 0:
                sleep(wait)
            yield self._sound[start : self._given]

    def late(self) -> float:
        """Seconds from when the block given last was spoken until now."""
        return perf_counter() - self._began - self._given / SAMPLE_RATE


def ms(seconds: Sequence[float], percentile: int) -> str:
    """A percentile of seconds, in milliseconds."""
    return f"{np.percentile(np.array(seconds), percentile) * 1000:.1f} ms"


def peak_mb() -> float:
    """The most memory that this process has had."""
    peak = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss
    return peak / (1e6 if sys.platform == "darwin" else 1024)
