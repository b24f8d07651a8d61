"""CI's promise that nothing was left out, put to the test."""

from __future__ import annotations

import os
import subprocess
import sys

import pytest
from django.conf import settings

SKIPPING = """
import pytest

@pytest.mark.skip(reason="no moon tonight")
def test_by_moonlight(): ...

def test_by_day(): ...
"""
SKIPPING_WHOLE = """
import pytest
pytest.importorskip("no_such_module_anywhere")
"""


@pytest.mark.parametrize("text", [SKIPPING, SKIPPING_WHOLE])
@pytest.mark.parametrize("strict", [True, False])
def test_a_skip_fails_where_nothing_may_be_skipped(tmp_path, text, strict):
    (tmp_path / "test_it.py").write_text(text)
    (tmp_path / "pytest.ini").write_text("[pytest]\n")
    env = {**os.environ, "HELMROOM_NO_SKIPS": "1" if strict else "0", "PYTHONPATH": str(settings.BASE_DIR)}
    env.pop("PYTEST_XDIST_WORKER", None)
    command = [
        sys.executable,
        "-m",
        "pytest",
        "-q",
        "-p",
        "tests.no_skips",
        "-p",
        "no:django",
        "-p",
        "no:cacheprovider",
        ".",
    ]
    done = subprocess.run(command, cwd=tmp_path, env=env, capture_output=True, text=True)
    assert (done.returncode not in (0, 5)) is strict, done.stdout
    assert ("Nothing may be skipped here" in done.stdout) is strict
