"""Where an utterance begins and ends: blocks of samples in, whole utterances out."""

from __future__ import annotations

from collections import deque
from collections.abc import Iterable, Iterator
from dataclasses import dataclass, field

import numpy as np

from assistant.hearing.port import SAMPLE_RATE, Samples

FRAME = SAMPLE_RATE // 50
"""Samples in a frame of 20 ms, the step of every decision here."""


STEADY = 1.5
"""Decibels of standard deviation between frames under which a sound is a hum or a hiss. Speech has 5 and more."""


@dataclass(frozen=True)
class Timing:
    """Seconds, and the decibels over the noise floor that are speech. Chosen by the project's design."""

    before: float = 0.3
    """Sound kept from before the speech, so that no first consonant is lost."""
    start: float = 0.1
    """Speech needed to begin."""
    tail: float = 0.6
    """Silence that ends an utterance."""
    longest: float = 10.0
    """An utterance is cut here, whatever happens."""
    over_floor: float = 7.0
    """Decibels over the floor that begin speech; to go on, half as much is enough."""
    quietest: float = -60.0
    """Decibels below full scale under which nothing is speech, however quiet the floor is."""


@dataclass
class Endpoint:
    """A detector that follows the noise floor. Feed it blocks in order; it gives utterances when they end."""

    timing: Timing = field(default_factory=Timing)

    def __post_init__(self) -> None:
        self._rest: Samples = np.zeros(0, np.int16)
        self._before: deque[Samples] = deque(maxlen=self._frames(self.timing.before + self.timing.start))
        self._levels: deque[float] = deque(maxlen=self._frames(3.0))
        self._spoken: list[Samples] = []
        self._run = 0
        self.last_pause = 0
        """Samples of silence at the end of the utterance given last."""

    @property
    def speaking(self) -> bool:
        """Whether an utterance has begun and not ended."""
        return bool(self._spoken)

    @property
    def pause(self) -> int:
        """Samples of silence at the end of the utterance that is going on."""
        return self._run * FRAME if self._spoken else 0

    def so_far(self) -> Samples:
        """The utterance that is going on."""
        return np.concatenate(self._spoken) if self._spoken else np.zeros(0, np.int16)

    def feed(self, block: Samples) -> Iterator[Samples]:
        """Take a block of any length."""
        samples = np.concatenate([self._rest, block])
        whole = len(samples) // FRAME * FRAME
        self._rest = samples[whole:]
        for start in range(0, whole, FRAME):
            ended = self._frame(samples[start : start + FRAME])
            if ended is not None:
                yield ended

    def finish(self) -> Iterator[Samples]:
        """Take the end of the sound: an utterance that is going on ends here."""
        if self._spoken:
            yield self._end()

    def _frame(self, frame: Samples) -> Samples | None:
        level = _decibels(frame)
        self._levels.append(level)
        floor = self._floor()
        if not self._spoken:
            self._before.append(frame)
            loud = level > max(floor + self.timing.over_floor, self.timing.quietest)
            self._run = self._run + 1 if loud else 0
            if self._run >= self._frames(self.timing.start):
                self._spoken, self._run = list(self._before), 0
                self._before.clear()
            return None
        self._spoken.append(frame)
        quiet = level < max(floor + self.timing.over_floor / 2, self.timing.quietest)
        self._run = self._run + 1 if quiet else 0
        ended = self._run >= self._frames(self.timing.tail)
        too_long = len(self._spoken) >= self._frames(self.timing.longest)
        return self._end() if ended or too_long else None

    def _end(self) -> Samples:
        spoken = np.concatenate(self._spoken)
        self.last_pause = self._run * FRAME
        self._spoken, self._run = [], 0
        return spoken

    def _floor(self) -> float:
        """The level that one frame in ten of the last three seconds stays under, speech or not.

        Speech has gaps between its sounds and so leaves the floor where it was; an engine that starts lifts it. At
        the very beginning a steady level is a floor, and any other may be speech.
        """
        levels = np.fromiter(self._levels, np.float64)
        if len(levels) < self._frames(0.5) and np.std(levels) > STEADY:
            return self.timing.quietest
        return float(np.percentile(levels, 10))

    @staticmethod
    def _frames(seconds: float) -> int:
        return max(1, round(seconds * SAMPLE_RATE / FRAME))


def utterances(blocks: Iterable[Samples], timing: Timing | None = None) -> Iterator[Samples]:
    """Cut a sound into utterances."""
    endpoint = Endpoint(timing or Timing())
    for block in blocks:
        yield from endpoint.feed(block)
    yield from endpoint.finish()


def _decibels(frame: Samples) -> float:
    """Level of a frame below full scale, its steady part taken off."""
    sound = frame.astype(np.float64)
    power = float(np.mean((sound - sound.mean()) ** 2)) / 32768.0**2
    return 10 * float(np.log10(max(power, 1e-12)))
