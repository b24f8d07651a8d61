"""After a session, in a browser: the page is read at three widths and the next week's proposal taken over by one tap."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import pytest
from django.urls import reverse

from missions.models import PlannedMission, Progress
from missions.readiness.services.evidence import refresh_evidence
from tests.browser.day_world import an_afternoon

pytestmark = pytest.mark.browser


@pytest.fixture
def afternoon(site: Any) -> Any:
    world = an_afternoon(site)
    for progress in Progress.objects.all():
        refresh_evidence(progress, world.session.ends_at)
    return world


def test_the_proposal_is_read_with_its_reasons_and_taken_over(
    site: Any, afternoon: Any, open_page: Callable[..., Any], axe_clean: Callable[[Any], None]
) -> None:
    page = open_page(site.as_coach, reverse("session", args=[afternoon.session.pk]))
    page.get_by_role("link", name="After", exact=True).click()
    page.get_by_role("heading", name="After the session").wait_for()
    axe_clean(page)
    page.get_by_role("button", name="Take it over").click()
    page.get_by_text("Taken over: 1 mission planned").wait_for()
    assert PlannedMission.objects.filter(session=afternoon.later, mission=afternoon.mission).exists()


@pytest.mark.parametrize("dark", [False, True])
def test_it_and_the_term_with_its_projection_fit_every_width(
    site: Any, afternoon: Any, open_page: Callable[..., Any], axe_clean: Callable[[Any], None], dark: bool
) -> None:
    page = open_page(site.as_coach, "/", dark=dark)
    for address in (reverse("session_after", args=[afternoon.session.pk]), reverse("term")):
        for width in (1280, 820, 360):
            page.set_viewport_size({"width": width, "height": 900})
            page.goto(address)
            assert page.evaluate("document.documentElement.scrollWidth") <= width, (address, width)
        axe_clean(page)
    page.get_by_role("heading", name="At the term's end, at this pace").wait_for()
