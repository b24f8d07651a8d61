"""Five teams' afternoons played through: from signing in over a course of their own to what their runs say."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, field
from typing import Any

import pytest

from missions.models import Attempt
from tests.browser.conftest import until_on
from tests.browser.test_tablet_course import COURSE, draw, verdict
from tests.browser.test_tablet_log import answer, club, kept, sign_in

__all__ = ["club"]
pytestmark = pytest.mark.browser
Miss = tuple[float, float]


@dataclass(frozen=True)
class Afternoon:
    """``misses`` in cm, (left, too far); ``found`` is what the tablet says at the end, after the team's own ``guess``."""

    misses: list[Miss]
    found: str
    guess: str
    screen: dict[str, Any] = field(default_factory=dict)
    away_from: int | None = None  # the run from which there is no network, until the last


AFTERNOONS = {
    "the robot comes too far each time": Afternoon(
        [(0.2, 7.4), (0, 7.8), (-0.3, 7.1), (0.1, 7.6), (0.2, 7.5), (0, 7.4)], "A pattern", "A distance"
    ),
    "the misses lie around the mark": Afternoon(
        [(0.6, -0.4), (-0.5, 0.7), (0.3, 0.2), (-0.6, -0.6), (0.1, 0.4)],
        "No cause found",
        "How we set it down",
        {"width": 820, "height": 1180, "touch": True},
    ),
    "time for two runs": Afternoon([(3, 3), (4, 2)], "Too few", "We don't know", {"width": 360, "height": 740}),
    "without network in the middle": Afternoon(
        [(0.2, 7.4), (0, 7.8), (-0.3, 7.1), (0.1, 7.6), (0.2, 7.5)], "A pattern", "A turn", {"dark": True}, away_from=1
    ),
    "one run went wild": Afternoon(
        [(0.2, -0.1), (-0.3, 0.2), (0.1, 0.1), (0, -0.2), (0.2, 0.1), (-0.1, 0), (18, 0)], "A slip", "A slip, once"
    ),
}


@pytest.mark.parametrize("name", AFTERNOONS)
def test_an_afternoon(club: Any, open_page: Callable[..., Any], name: str) -> None:
    day = AFTERNOONS[name]
    page = open_page(path="/team/", **day.screen)
    sign_in(page)
    page.get_by_role("heading", name="What now?").wait_for()
    page.get_by_role("link", name="Our course", exact=True).click()
    draw(page, COURSE)
    verdict(page, "Clear")
    page.get_by_role("button", name="Keep as plan 1").click()
    page.get_by_role("link", name="Run it", exact=True).click()
    kept(page).get_by_text("Saved").wait_for()
    for n, miss in enumerate(day.misses):
        if n == day.away_from:
            page.context.set_offline(True)
        if n == len(day.misses) - 1:
            page.context.set_offline(False)
        run(page, miss, seconds=f"{40 + n}")
        until_on(page, lambda: page.locator("#kept-heading").count(), "the run to be kept")
        if n < len(day.misses) - 1:
            page.get_by_role("button", name="Log the next run").click()
    page.get_by_role("heading", name=f"Run {len(day.misses)} is saved").wait_for()
    kept(page).get_by_text("Saved").wait_for()
    if day.found == "Too few":
        page.get_by_role("link", name="Log a run", exact=True).click()
        page.locator(".last-runs a").first.click()
    page.get_by_role("button", name=day.guess).click()
    page.get_by_text(f"You thought: {day.guess}.").wait_for()
    page.locator(".said").get_by_text(day.found, exact=False).first.wait_for()
    runs = list(Attempt.objects.order_by("duration_s"))
    assert [run.duration_s for run in runs] == [40.0 + n for n in range(len(day.misses))], "each run exactly once"
    assert {run.plan_number for run in runs} == {1}
    assert [bool(run.said_before) for run in runs] == [True] * len(runs)


def run(page: Any, miss: Miss, *, seconds: str) -> None:
    """What the team thinks, what came, and where it met."""
    page.get_by_role("radio", name="It works").check(force=True)
    answer(page, clean=abs(miss[0]) < 5 and abs(miss[1]) < 5, seconds=seconds)
    left, far = miss
    if not page.locator("#sideways").is_visible():
        page.locator("#in-numbers > summary").click()
    page.fill("#sideways", str(abs(left)))
    page.select_option("#side", "left" if left >= 0 else "right")
    page.fill("#along", str(abs(far)))
    page.select_option("#way", "far" if far >= 0 else "short")
    page.get_by_role("button", name="Save this run").click()
