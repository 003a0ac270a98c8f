"""How often something may be done: allowances that fill up again with time."""

from __future__ import annotations

from collections import OrderedDict
from collections.abc import Callable
from dataclasses import dataclass
from time import monotonic

MOST_KEYS = 4096
"""Keys remembered; the one used longest ago is forgotten first."""


@dataclass
class Allowance:
    """So many at once (`burst`), and `rate` more a second, for each key."""

    rate: float
    burst: float
    clock: Callable[[], float] = monotonic

    def __post_init__(self) -> None:
        self._left: OrderedDict[str, tuple[float, float]] = OrderedDict()

    def take(self, key: str, amount: float = 1.0) -> bool:
        """Use some up, if there is that much."""
        now = self.clock()
        left, then = self._left.pop(key, (self.burst, now))
        left = min(self.burst, left + (now - then) * self.rate)
        enough = left >= amount
        self._left[key] = (left - amount if enough else left, now)
        if len(self._left) > MOST_KEYS:
            self._left.popitem(last=False)
        return enough
