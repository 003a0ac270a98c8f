"""A key that opens the ear: the space bar, a headset's button, a page turner, or whatever sends a key to a terminal."""

from __future__ import annotations

import _thread
import threading
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from typing import TextIO

from prompt_toolkit.input import create_input
from prompt_toolkit.keys import Keys as Known

LOOK_EVERY = 0.02
"""Seconds between looks for a key."""

WORK_EVERY = 0.2
"""Seconds between what is done while no key is pressed."""

ENDS = {Known.ControlC, Known.ControlD}


class Keys:
    """Presses of any key, counted. Key presses alone are seen: terminals tell nothing of a key let go."""

    def __init__(self) -> None:
        self._pressed = threading.Condition()
        self.count = 0

    def press(self) -> None:
        """Count a press."""
        with self._pressed:
            self.count += 1
            self._pressed.notify_all()

    def wait(self, seen: int, meanwhile: Callable[[], None]) -> int:
        """Wait until more than `seen` presses were counted, and return how many now; do something small meanwhile."""
        with self._pressed:
            while self.count <= seen:
                meanwhile()
                self._pressed.wait(WORK_EVERY)
            return self.count


@contextmanager
def pressed(stdin: TextIO, at_once: Callable[[], None]) -> Iterator[Keys]:
    """Count the keys pressed at a terminal while this lasts, and call `at_once` with each.

    Control-C interrupts, as it does elsewhere.
    """
    keys, over = Keys(), threading.Event()
    terminal = create_input(stdin)

    def look() -> None:
        while not over.wait(LOOK_EVERY):
            for key in terminal.read_keys() + terminal.flush_keys():
                if key.key in ENDS or terminal.closed:
                    _thread.interrupt_main()
                    return
                at_once()
                keys.press()

    with terminal.raw_mode():
        looking = threading.Thread(target=look, daemon=True)
        looking.start()
        try:
            yield keys
        finally:
            over.set()
            looking.join()
