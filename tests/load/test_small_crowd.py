"""A handful of tablets for a few seconds, with a laptop of their own: what ``make load LAPTOP=1`` does, only small."""

from __future__ import annotations

import re
import tempfile
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path
from shutil import rmtree

import pytest

from tests.load.__main__ import loaded
from tests.load.report import told


@pytest.mark.slow
def test_a_handful_of_tablets_lose_nothing_and_the_report_says_so() -> None:
    """Times are not looked at: other tests run beside."""
    folder = Path(tempfile.mkdtemp(prefix="helmroom-load-"))
    try:
        # In a thread of its own: in this one the browser tests' loop may be running.
        with ThreadPoolExecutor(1) as aside:
            report = aside.submit(
                loaded, laptop=True, tablets=4, clubs=1, boards=1, seconds=3.0, hurry=40.0, folder=folder
            ).result()
    finally:
        rmtree(folder, ignore_errors=True)
    assert report.falls_short == [] and not report.wrong
    assert report.kept > 0 and (report.lost, report.doubled, report.strange) == (0, 0, 0)
    words = told(report, None)
    assert f"answered “kept” {report.kept}: lost 0, doubled 0" in words and words.endswith("It holds.")
    for line in (r"\n\| all \| \d+ \|", r"Processor time in 3 s: start "):
        assert re.search(line, words), (line, words)
