"""Whoever presses Ctrl-C twice, or is sent SIGTERM by two at once, ends the program: no signal waits for another's lock."""

from __future__ import annotations

import os
import subprocess
import sys

import pytest

from tests.patience import LONGEST_S
from tests.test_architecture import ROOT

#: At each line of what the first signal does comes a second one.
TWO = """
import signal, sys
{begin}
def second(frame, event, argument):
    if event == "line":
        try:
            signal.raise_signal(signal.{name})
        except (SystemExit, KeyboardInterrupt):
            pass
    return second
sys.settrace(second)
try:
    signal.raise_signal(signal.{name})
except (SystemExit, KeyboardInterrupt):
    pass
sys.settrace(None)
{end}
print("ended")
"""
START = {
    "begin": "from config.process.ending import end_on_signals; asked = end_on_signals()",
    "end": "assert asked.is_set()",
}
WORK = {
    "begin": "import threading; from config.process.ending import ask_on_signals; "
    "asked = threading.Event(); ask_on_signals(asked.set)",
    "end": "assert asked.wait(60)",
}


@pytest.mark.skipif(os.name != "posix", reason="Windows sends a process no such signals")
@pytest.mark.parametrize("name", ["SIGTERM", "SIGINT"])
@pytest.mark.parametrize("program", [START, WORK], ids=["start", "work"])
def test_a_second_signal_in_the_midst_of_the_first_ends_it_all_the_same(program, name):
    program = TWO.format(name=name, **program)
    ran = subprocess.run(
        [sys.executable, "-c", program], cwd=ROOT, capture_output=True, text=True, timeout=LONGEST_S, check=False
    )
    assert ran.stdout.strip().endswith("ended"), ran.stderr[-1000:]
