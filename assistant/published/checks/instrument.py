"""Whether an instrument is true."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

from assistant.grade import instrument

CHECKS: dict[str, Callable[..., Any]] = {
    "axis error": lambda *pairs: [instrument.axis_error(first, second) for first, second in pairs],
    "allowed": lambda accuracy, over, *far: [instrument.allowed(accuracy, over, each) for each in far],
}
