"""The page of threats names tests that exist."""

from __future__ import annotations

import re
from pathlib import Path

ROOT = Path(__file__).resolve().parents[2]


def test_every_test_that_the_page_names_is_there():
    named = set(re.findall(r"`(tests/[\w/]+\.py)`", (ROOT / "docs" / "threat-model.md").read_text()))
    assert len(named) > 15
    assert [path for path in sorted(named) if not (ROOT / path).is_file()] == []
