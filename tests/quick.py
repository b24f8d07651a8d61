"""``--quick``: what a developer runs between two edits. Chosen by what a test needs, so that it stays true as tests come.

Left out are tests that open a browser, start processes, ask Redis or are marked ``slow`` (the planner, whole
simulations), and tests of the database but for those marked ``quick``.
"""

from __future__ import annotations

import pytest

LEFT_OUT = ("browser", "redis", "slow")
DATABASE = {"db", "transactional_db", "live_server", "django_db_setup"}


def pytest_addoption(parser: pytest.Parser) -> None:
    parser.addoption("--quick", action="store_true", help="only tests that take next to no time")


def is_quick(item: pytest.Item) -> bool:
    if any(item.get_closest_marker(name) for name in LEFT_OUT):
        return False
    if item.get_closest_marker("quick"):
        return True
    names = set(getattr(item, "fixturenames", ()))
    return not (names & DATABASE or item.get_closest_marker("django_db"))


@pytest.hookimpl(trylast=True)
def pytest_collection_modifyitems(config: pytest.Config, items: list[pytest.Item]) -> None:
    if config.getoption("--quick"):
        left_out = [item for item in items if not is_quick(item)]
        config.hook.pytest_deselected(items=left_out)
        items[:] = [item for item in items if is_quick(item)]
