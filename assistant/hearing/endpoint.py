"""Where an utterance begins and ends: blocks of samples in, whole utterances out."""

from __future__ import annotations

import heapq
from collections import deque
from collections.abc import Iterable, Iterator
from dataclasses import dataclass, field

import numpy as np

from assistant.hearing.port import SAMPLE_RATE, Samples
from assistant.hearing.voicing import FRAME, Voicing, bands
from assistant.hearing.voicing.bands import Array

VOWELS = slice(1, 9)
"""The bands from 200 to 1000 Hz: every syllable is strong there; hisses, whines and rumble are less so."""


@dataclass(frozen=True)
class Timing:
    """Seconds, and the chances of speech that begin and keep up an utterance. Chosen by the project's design."""

    before: float = 0.3
    """Sound kept from before the speech, so that no first consonant is lost."""
    start: float = 0.1
    """Speech needed to begin."""
    tail: float = 0.6
    """Silence that ends an utterance."""
    long_tail: float = 1.2
    """Silence that ends an utterance whose words are not a whole sentence yet, or talk that is passed over: what comes
    after a shorter one may be the end of the same sentence."""
    longest: float = 10.0
    """Talk that goes on longer is no utterance: cut anywhere it would be another sentence."""
    begins: float = 0.7
    """The chance of speech in a frame from which an utterance can begin."""
    goes_on: float = 0.5
    """The chance of speech in a frame under which it is a pause."""
    faintest: float = 16.0
    """Decibels under the loud parts of the utterance: what is fainter is not the person, whatever the network says."""
    syllable: float = 0.2
    """Seconds over which the loudness is taken: consonants are faint."""
    loud: float = 0.4
    """Seconds of an utterance that are its loud parts: a blow beside it is shorter."""


@dataclass
class Endpoint:
    """A detector of utterances. Feed it blocks in order; it gives utterances when they end.

    Talk that goes on longer than the longest is passed over to its next pause, where no samples are given for it; it
    is not kept, however long it lasts.
    """

    timing: Timing = field(default_factory=Timing)

    def __post_init__(self) -> None:
        self._rest: Samples = np.zeros(0, np.int16)
        self._before: deque[Samples] = deque(maxlen=self._frames(self.timing.before + self.timing.start))
        self._voicing = Voicing()
        self._spoken: list[Samples] = []
        self._overlong = False
        self._run = 0
        self._powers: deque[float] = deque(maxlen=self._frames(self.timing.syllable))
        self._loud: list[float] = []
        self.unfinished = False
        """Whether the words so far are no whole sentence: to be set by who heard them, and forgotten as they go on."""
        self.last_pause = 0
        """Samples of silence at the end of the utterance given last."""

    @property
    def speaking(self) -> bool:
        """Whether an utterance has begun and not ended."""
        return bool(self._spoken) or self._overlong

    @property
    def pause(self) -> int:
        """Samples of silence at the end of the utterance that is going on; none in talk that is passed over."""
        return self._run * FRAME if self._spoken else 0

    @property
    def spoken_samples(self) -> int:
        """Samples of the utterance that is going on, without the silence at its end."""
        return (len(self._spoken) - self._run) * FRAME if self._spoken else 0

    def so_far(self) -> Samples:
        """The utterance that is going on."""
        return np.concatenate(self._spoken) if self._spoken else np.zeros(0, np.int16)

    def feed(self, block: Samples) -> Iterator[Samples]:
        """Take a block of any length. No samples are given where talk ends that was too long to be an utterance."""
        samples = np.concatenate([self._rest, block])
        whole = len(samples) // FRAME * FRAME
        self._rest = samples[whole:]
        frames = samples[:whole].reshape(-1, FRAME)
        for frame, seen in zip(frames, bands(frames.astype(np.float32) / np.float32(32768)), strict=True):
            ended = self._frame(frame, seen)
            if ended is not None:
                yield ended

    def finish(self) -> Iterator[Samples]:
        """Take the end of the sound: an utterance that is going on ends here, unless it was too long."""
        if self._spoken:
            yield self._end()

    def _frame(self, frame: Samples, seen: Array) -> Samples | None:
        speech = self._voicing(seen)
        self._powers.append(float(np.sum(10 ** seen[VOWELS])))
        if not self.speaking:
            self._before.append(frame)
            self._run = self._run + 1 if speech > self.timing.begins else 0
            if self._run >= self._frames(self.timing.start):
                self._spoken, self._run = list(self._before), 0
                self._before.clear()
                self._loud = []
            return None
        if not self._overlong:
            self._spoken.append(frame)
        faint = self._faint()
        self._run = self._run + 1 if faint or speech < self.timing.goes_on else 0
        self.unfinished &= self._run > 0
        waits = self.unfinished or self._overlong
        if self._run >= self._frames(self.timing.long_tail if waits else self.timing.tail):
            return self._end()
        if len(self._spoken) - self._run >= self._frames(self.timing.longest):
            self._spoken, self._overlong = [], True
        return None

    def _faint(self) -> bool:
        """Whether the last syllable is far fainter than the utterance is where it is loud."""
        power = sum(self._powers)
        heapq.heappush(self._loud, power)
        if len(self._loud) <= self._frames(self.timing.loud):
            return False
        heapq.heappop(self._loud)
        return power < self._loud[0] / 10 ** (self.timing.faintest / 10)

    def _end(self) -> Samples:
        spoken, self.last_pause = self.so_far(), self.pause
        self._spoken, self._overlong, self._run, self.unfinished = [], False, 0, False
        return spoken

    @staticmethod
    def _frames(seconds: float) -> int:
        return max(1, round(seconds * SAMPLE_RATE / FRAME))


def utterances(blocks: Iterable[Samples], timing: Timing | None = None) -> Iterator[Samples]:
    """Cut a sound into utterances; talk that was too long to be one is left out."""
    endpoint = Endpoint(timing or Timing())
    for block in blocks:
        yield from (whole for whole in endpoint.feed(block) if len(whole))
    yield from endpoint.finish()
