"""What an answer holds, as its reader has it."""

from __future__ import annotations

import re
from typing import Any


def page_of(response: Any) -> str:
    """The text of an answer. In a page runs of white space are one space, as a browser takes them."""
    text = response.content.decode()
    if not response.headers.get("Content-Type", "").startswith("text/html"):
        return text
    return re.sub(r" (?=/?>)", "", re.sub(r"\s+", " ", text))
