"""``--quick``: what a developer runs between two edits. Chosen by what a test needs, so that it stays true as tests come.

Left out are tests that open a browser, start processes, ask Redis or are marked ``slow`` (the planner, whole
simulations), and tests of the database but for those marked ``quick``.

``--database``: what is run again on another database, those tests that ask it anything.
"""

from __future__ import annotations

import pytest

LEFT_OUT = ("browser", "redis", "slow")
DATABASE = {"db", "transactional_db", "live_server", "django_db_setup"}


def pytest_addoption(parser: pytest.Parser) -> None:
    parser.addoption("--quick", action="store_true", help="only tests that take next to no time")
    parser.addoption("--database", action="store_true", help="only tests that another database could fail")


def is_quick(item: pytest.Item) -> bool:
    if any(item.get_closest_marker(name) for name in LEFT_OUT):
        return False
    if item.get_closest_marker("quick"):
        return True
    return not uses_the_database(item)


def uses_the_database(item: pytest.Item) -> bool:
    """The suite's own, which ``DATABASE_URL`` names: what starts a site of its own gives it one of its own."""
    return bool(DATABASE & set(getattr(item, "fixturenames", ())) or item.get_closest_marker("django_db"))


@pytest.hookimpl(trylast=True)
def pytest_collection_modifyitems(config: pytest.Config, items: list[pytest.Item]) -> None:
    for option, is_chosen in (("--quick", is_quick), ("--database", uses_the_database)):
        if config.getoption(option):
            config.hook.pytest_deselected(items=[item for item in items if not is_chosen(item)])
            items[:] = [item for item in items if is_chosen(item)]
