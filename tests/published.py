"""Reads the published check values: what a test compares with, how closely, and where it is from."""

from __future__ import annotations

import json
from dataclasses import dataclass
from functools import cache
from pathlib import Path
from typing import Any

import pytest

FOLDER = Path(__file__).parents[1] / "fixtures" / "published"


@dataclass(frozen=True)
class Published:
    """``case["slope"]`` is that value within its tolerance, to compare with ``==``."""

    name: str
    given: dict[str, Any]
    expect: dict[str, dict[str, Any]]

    def __getitem__(self, name: str) -> Any:
        expected = self.expect[name]
        return pytest.approx(expected["value"], abs=expected.get("within"), rel=expected.get("relative"))

    def __contains__(self, name: str) -> bool:
        return name in self.expect

    def __str__(self) -> str:
        return self.name


@cache
def _cases(topic: str) -> dict[str, Published]:
    cases = json.loads((FOLDER / f"{topic}.json").read_text())["cases"]
    return {name: Published(name, case["given"], case["expect"]) for name, case in cases.items()}


def published(topic: str, case: str) -> Published:
    return _cases(topic)[case]


def published_cases(topic: str, begin: str = "") -> list[Any]:
    """All cases of a topic whose names begin so, for ``parametrize``."""
    return [pytest.param(case, id=name) for name, case in _cases(topic).items() if name.startswith(begin)]
