"""How loud the site is, in plain words, and when to say so."""

from __future__ import annotations

from collections import deque
from statistics import median

from assistant.doubting.evidence import Evidence
from assistant.wording.phrase import phrase
from assistant.wording.said import Reply, Said

LEVELS = ((10.0, "noise as loud"), (15.0, "noise half as loud"))
"""Decibels of the loud parts of an utterance over the noise, and what is said when it is less. Ten decibels sound twice
as loud (common practice, no source). In recorded drills, diggers, breakers and saws voices at 5 dB are under the first
mostly, at 10 dB under the second; in wind and hammering 4 dB higher."""

UTTERANCES = 3
"""Utterances over which the level is taken: one lorry is no loud site."""

SILENT_FOR = 20
"""Utterances after a warning in which it is not repeated."""


class Loudness:
    """Listens along, and warns when the noise has been loud for a while."""

    def __init__(self) -> None:
        self._latest: deque[float] = deque(maxlen=UTTERANCES)
        self._wait = 0

    def remark(self, evidence: Evidence | None, answer: Reply) -> Said | None:
        """Take an utterance that was answered aloud; a warning, if one is due."""
        if evidence is None or evidence.is_noise or not answer.spoken:
            return None
        return self.heard(evidence.above_noise)

    def heard(self, above_noise: float) -> Said | None:
        """Take the level of one utterance; a warning, if one is due."""
        self._latest.append(above_noise)
        self._wait = max(0, self._wait - 1)
        if self._wait or len(self._latest) < UTTERANCES:
            return None
        level = median(self._latest)
        name = next((name for limit, name in LEVELS if level < limit), None)
        if name is None:
            return None
        self._wait = SILENT_FOR
        return phrase("loud here", how=phrase(name))
