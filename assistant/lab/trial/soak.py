"""Hours of an open microphone on a site where nobody talks to Rodside."""

from __future__ import annotations

import resource
from collections.abc import Iterator
from pathlib import Path
from time import process_time

import numpy as np

from assistant.book.store import Book
from assistant.hearing.port import SAMPLE_RATE, Ear, Samples
from assistant.lab.trial import site
from assistant.talk.listening import listen
from assistant.talk.session import Session

QUIETEST, LOUDEST = 40.0, 6000.0
"""Root mean squares, in 16-bit steps, between which the noise of a minute lies: from a lull to a breaker near by."""


def minutes(hours: float, speech: Path | None, seed: int) -> Iterator[Samples]:
    """Blocks of noise: each minute of another kind and loudness, swelling and fading."""
    dice = np.random.default_rng(seed)
    kinds = site.kinds(speech)
    for minute in range(max(1, round(hours * 60))):
        noise = site.noise(kinds[(seed + minute) % len(kinds)], speech)
        loud = np.exp(dice.uniform(np.log(QUIETEST), np.log(LOUDEST)))
        at = int(dice.integers(len(noise)))
        for block in range(60 * SAMPLE_RATE // site.BLOCK):
            swell = loud * (1 + 0.5 * np.sin(block / 40))
            part = noise[np.arange(at, at + site.BLOCK) % len(noise)]
            at += site.BLOCK
            hiss = dice.normal(0, 8.0, site.BLOCK)
            yield np.clip(part * swell + hiss, -32768, 32767).astype(np.int16)


def soak(hours: float, ear: Ear, speech: Path | None, seed: int) -> Iterator[tuple[str, str]]:
    """What was found, by name: utterances cut out of noise, entries, answers spoken, memory, processor time."""
    with Book.scratch() as book:
        session = Session(book)
        session.begin()
        entries = len(list(book.rows()))
        began, sizes = process_time(), [_memory()]
        cut, spoken, heard = 0, 0, []
        blocks = minutes(hours, speech, seed)
        for outcome in listen(session, ear, blocks):
            cut += 1
            if outcome.reply.spoken:
                spoken += 1
                heard.append(f"{outcome.heard!r}: {outcome.reply.shown}")
            sizes.append(_memory())
        spent = process_time() - began
        yield "simulated hours", f"{hours:g}"
        yield "pieces cut out as if they were speech", str(cut)
        yield "answers spoken", str(spoken)
        for each in heard[:20]:
            yield "  spoken", each
        yield "entries written", str(len(list(book.rows())) - entries)
        quarter, most, last = sizes[len(sizes) // 4], max(sizes), sizes[-1]
        yield "memory after a quarter, at its most, at last", f"{quarter:.0f}, {most:.0f}, {last:.0f} MB"
        yield "processor time for each second", f"{1000 * spent / max(1e-9, hours * 3600):.1f} ms"


def _memory() -> float:
    """Megabytes of this process that are in memory now (Linux), or were at the most."""
    status = Path("/proc/self/statm")
    if status.exists():
        return int(status.read_text().split()[1]) * resource.getpagesize() / 2**20
    return resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 2**10
