"""What went wrong, told sparingly: no flood, and no fault that comes back, may fill the disk with words."""

from __future__ import annotations

import logging
from collections import Counter
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from traceback import extract_tb, format_exception

from assistant.page.limits import Allowance

EVERY = 60.0
"""Seconds between two words about one kind of trouble."""

LONGEST = 4_000
"""Letters of one word about trouble; of a longer one the end is kept."""


class Sparing(logging.Handler):
    """Tells one kind of trouble once in a while, with how often it came since: a kind is the place in the program."""

    def __init__(self, tell: Callable[[str], None], kinds: Allowance | None = None) -> None:
        super().__init__(logging.WARNING)
        self._tell = tell
        self._kinds = kinds or Allowance(rate=1 / EVERY, burst=1)
        self._kept: Counter[str] = Counter()

    def emit(self, record: logging.LogRecord) -> None:
        """Tell, or count."""
        error = record.exc_info[1] if record.exc_info else None
        kind = f"{record.name}:{record.lineno}:{type(error).__name__}:{_place(error)}"
        if not self._kinds.take(kind):
            self._kept[kind] += 1
            return
        more = self._kept.pop(kind, 0)
        text = record.getMessage() + (f" ({more} more since the last word of it)" if more else "")
        if error is not None:
            text += "\n" + "".join(format_exception(error))
        self._tell(f"rodside: {text.rstrip()[-LONGEST:]}")


def _place(error: BaseException | None) -> str:
    frames = extract_tb(error.__traceback__) if error is not None else []
    return f"{frames[-1].filename}:{frames[-1].lineno}" if frames else ""


@contextmanager
def told(tell: Callable[[str], None]) -> Iterator[None]:
    """While this holds, whatever is logged as a warning or worse, by us or by a library, is told sparingly."""
    handler, root = Sparing(tell), logging.getLogger()
    root.addHandler(handler)
    try:
        yield
    finally:
        root.removeHandler(handler)
