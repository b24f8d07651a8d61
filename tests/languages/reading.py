"""A page as somebody reads it."""

from __future__ import annotations

import re
from typing import Any

from tests.pages import page_of


def read(response: Any) -> str:
    """What a page says, without its tags and without what it carries for scripts."""
    shown = re.sub(r"<template\b.*?</template>", "", page_of(response), flags=re.S)
    return re.sub(r"\s+", " ", re.sub(r"<[^>]+>", "", shown))
