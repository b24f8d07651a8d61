"""With HELMROOM_NO_SKIPS=1 a test that would be skipped fails: CI has everything, so nothing may be left out quietly."""

from __future__ import annotations

import os
from collections.abc import Generator
from typing import Any

import pytest


def _strict() -> bool:
    return os.environ.get("HELMROOM_NO_SKIPS") == "1"


def _fail_if_skipped(report: Any) -> Any:
    if report.skipped and _strict() and not hasattr(report, "wasxfail"):
        reason = report.longrepr[2] if isinstance(report.longrepr, tuple) else report.longrepr
        report.outcome = "failed"
        report.longrepr = f"Nothing may be skipped here. {reason}"
    return report


@pytest.hookimpl(wrapper=True)
def pytest_runtest_makereport() -> Generator[None, Any, Any]:
    return _fail_if_skipped((yield))


@pytest.hookimpl(wrapper=True)
def pytest_make_collect_report() -> Generator[None, Any, Any]:
    return _fail_if_skipped((yield))
