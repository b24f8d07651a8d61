"""Says at the end in which order the tests ran: pytest-randomly says it in a heading, which ``-q`` leaves out."""

from __future__ import annotations

import pytest


def pytest_terminal_summary(terminalreporter: pytest.TerminalReporter, config: pytest.Config) -> None:
    seed = config.getoption("randomly_seed", None)
    if seed is not None:
        terminalreporter.write_line(f'The same order again: make test ONLY="--randomly-seed={seed}"')
