"""Lets every test import what tests share, and lets what they start be stopped from the keyboard."""

import signal
import sys
from pathlib import Path

sys.path.insert(0, str(Path(__file__).parent))

if signal.getsignal(signal.SIGINT) is signal.SIG_IGN:
    # A job in the background of a script ignores the keyboard, and so would all that it starts.
    signal.signal(signal.SIGINT, signal.default_int_handler)
