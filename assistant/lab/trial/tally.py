"""Counts of a trial as a table: wrong numbers in a thousand with their bound, questions, repeats, time."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass, field
from math import exp, lgamma, log
from typing import Any

CONFIDENCE = 0.95


@dataclass
class Count:
    """Entries added up."""

    entries: int = 0
    silent: int = 0
    asked_wrong: int = 0
    stands: int = 0
    questions: int = 0
    repeated: int = 0
    typed: int = 0
    seconds: float = 0.0
    perfect: float = 0.0
    heard: list[str] = field(default_factory=list)

    def add(self, tried: dict[str, Any]) -> None:
        """Add one entry."""
        self.entries += 1
        self.silent += min(1, tried["silent"])
        self.asked_wrong += min(1, tried["asked_wrong"])
        self.stands += tried["stands"]
        self.questions += tried["questions"]
        self.repeated += tried["repeats"] > 0
        self.typed += tried["typed"]
        self.seconds += tried["seconds"]
        self.perfect += tried["perfect"]


def upper_bound(events: int, trials: int, confidence: float = CONFIDENCE) -> float:
    """The rate that is not exceeded with this confidence: Clopper and Pearson's one-sided bound.

    None in 3,000 gives 0.000998, the "rule of three".
    """
    if events >= trials:
        return 1.0
    low, high = events / trials, 1.0
    for _ in range(60):
        middle = (low + high) / 2
        low, high = (middle, high) if _at_most(events, trials, middle) > 1 - confidence else (low, middle)
    return high


def _at_most(events: int, trials: int, rate: float) -> float:
    """The chance of at most so many events."""
    ways = [lgamma(trials + 1) - lgamma(k + 1) - lgamma(trials - k + 1) for k in range(events + 1)]
    return sum(exp(way + k * log(rate) + (trials - k) * log(1 - rate)) for k, way in enumerate(ways))


COLUMNS = (
    "SNR",
    "entries of",
    "doubt",
    "count",
    "silent wrong /1000",
    "bound",
    "asked, wrong /1000",
    "left wrong /1000",
    "questions each",
    "repeated",
    "typed",
    "time",
)


def table(days: Iterable[dict[str, Any]]) -> Iterator[tuple[str, ...]]:
    """Lines of the table: for each ratio all entries, each group, each voice; with the doubt engine and without it."""
    counts: dict[tuple[float, str, bool], Count] = {}
    for day in days:
        for tried in day["entries"]:
            for group in ("all", tried["group"], f"voice {day['voice']}"):
                counts.setdefault((day["ratio"], group, day["doubting"]), Count()).add(tried)
    for (ratio, group, doubting), count in sorted(counts.items(), key=lambda item: (-item[0][0], item[0][1:])):
        yield (shown_ratio(ratio), group, "on" if doubting else "off", *figures(count))


def figures(count: Count) -> tuple[str, ...]:
    """One line's figures."""
    many = count.entries
    return (
        str(many),
        f"{1000 * count.silent / many:.1f}",
        f"<{1000 * upper_bound(count.silent, many):.1f}",
        f"{1000 * count.asked_wrong / many:.1f}",
        f"{1000 * count.stands / many:.1f}",
        f"{count.questions / many:.3f}",
        f"{count.repeated / many:.1%}",
        f"{count.typed / many:.1%}",
        f"{count.seconds / count.perfect:.2f}",
    )


def shown_ratio(ratio: float) -> str:
    """Decibels; what is called clean is told so."""
    return "clean" if ratio >= 45 else f"{ratio:g} dB"
