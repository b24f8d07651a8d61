"""Ctrl-C and SIGTERM end a program wherever its main thread is."""

from __future__ import annotations

import signal
import sys
import threading
from typing import Any


def end_on_signals() -> threading.Event:
    """Raise ``KeyboardInterrupt`` on Ctrl-C and ``SystemExit`` on SIGTERM, and remember that it was asked for.

    The exception alone is not enough. It is raised wherever the main thread is, and Python drops it, with a line on
    standard error, inside what it calls by itself: a finalizer, or the callback of a weak reference, such as each
    import has. Whoever goes on for ever looks at the event that is given back.
    """
    asked_to_end = threading.Event()

    def on_interrupt(number: int, frame: Any) -> None:
        asked_to_end.set()
        signal.default_int_handler(number, frame)

    def on_terminate(*_: Any) -> None:
        asked_to_end.set()
        sys.exit(0)

    signal.signal(signal.SIGINT, on_interrupt)  # a shell starts what runs behind it deaf to Ctrl-C
    signal.signal(signal.SIGTERM, on_terminate)
    return asked_to_end
