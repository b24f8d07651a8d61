"""Ctrl-C and SIGTERM end a program wherever its main thread is."""

from __future__ import annotations

import signal
import sys
import threading
from collections.abc import Callable
from typing import Any


class AskedToEnd:
    """Whether a signal came. No lock is in it: a second signal may come while the first holds it, and would wait for ever."""

    def __init__(self) -> None:
        self._came = False

    def set(self) -> None:
        self._came = True

    def is_set(self) -> bool:
        return self._came


def ask_on_signals(ask_to_end: Callable[[], object]) -> None:
    """Ask on Ctrl-C and SIGTERM, in a thread: what asks may take a lock that the main thread holds in just that moment."""
    for number in (signal.SIGTERM, signal.SIGINT):
        signal.signal(number, lambda *_: threading.Thread(target=ask_to_end).start())


def end_on_signals() -> AskedToEnd:
    """Raise ``KeyboardInterrupt`` on Ctrl-C and ``SystemExit`` on SIGTERM, and remember that it was asked for.

    The exception alone is not enough. It is raised wherever the main thread is, and Python drops it, with a line on
    standard error, inside what it calls by itself: a finalizer, or the callback of a weak reference, such as each
    import has. Whoever goes on for ever looks at what is given back.
    """
    asked_to_end = AskedToEnd()

    def on_interrupt(number: int, frame: Any) -> None:
        asked_to_end.set()
        signal.default_int_handler(number, frame)

    def on_terminate(*_: Any) -> None:
        asked_to_end.set()
        sys.exit(0)

    signal.signal(signal.SIGINT, on_interrupt)  # a shell starts what runs behind it deaf to Ctrl-C
    signal.signal(signal.SIGTERM, on_terminate)
    return asked_to_end
