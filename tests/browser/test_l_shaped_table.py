"""An L-shaped table by a coach's hands: measured in the room's list, a mission drawn on it, its corner changed and undone."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import pytest
from playwright.sync_api import expect

from classroom.models import Table
from missions.models import MissionVersion
from motion.scene.records import MissingCorner

pytestmark = pytest.mark.browser


def missing_on_map(page: Any) -> list[float]:
    """Left, top, width and height of what the map shows as no table, in mm from the table's far left corner."""
    rect = page.locator("#map .ed-missing")
    return [float(rect.get_attribute(name) or 0) for name in ("x", "y", "width", "height")]


def test_a_mission_is_drawn_on_an_l_shaped_table(
    site: Any, open_page: Callable[..., Any], axe_clean: Callable[[Any], None]
) -> None:
    page = open_page(site.as_coach, "/settings/tables/", height=1000)
    page.get_by_label("Name", exact=True).fill("Long L")
    page.get_by_label("Long edge", exact=True).fill("240")
    page.get_by_label("Short edge", exact=True).fill("120")
    page.get_by_label("A corner that it lacks").select_option("the far right corner")
    page.get_by_role("button", name="Add", exact=True).click()
    expect(page.get_by_text("Measure how much of this edge is not there.")).to_have_count(2)
    page.get_by_label("Of the long edge it lacks").fill("80")
    page.get_by_label("Of the short edge it lacks").fill("40")
    page.get_by_role("button", name="Add", exact=True).click()
    expect(page.get_by_text("without its far right corner, 80 cm by 40 cm")).to_be_visible()
    assert Table.objects.get().missing == MissingCorner("far right", 800, 400)

    page.goto("/missions/new/")
    page.get_by_label("Title").fill("Fog bell")
    page.get_by_role("button", name="Start drawing").click()
    page.wait_for_selector("#map[role=application]")
    assert missing_on_map(page) == [1600, 0, 800, 400]
    axe_clean(page)
    page.locator('[data-group="table"] > summary').click()
    page.get_by_label("A corner that it lacks").select_option("the near right corner")
    expect(page.locator("#saved-words")).to_contain_text("Not saved yet")
    assert missing_on_map(page) == [1600, 800, 800, 400]
    page.locator("#map").focus()
    page.keyboard.press("Control+z")
    assert page.get_by_label("A corner that it lacks").input_value() == "far right"
    assert missing_on_map(page) == [1600, 0, 800, 400]
    page.locator("#missing_width").fill("60")
    page.locator("#missing_width").press("Tab")
    assert missing_on_map(page) == [1800, 0, 600, 400]
    with page.expect_response("**/edit/"):
        page.locator(".savebar button").click()
    expect(page.locator("#saved-words")).to_contain_text("Saved")
    assert MissionVersion.objects.get().missing == MissingCorner("far right", 600, 400)
    page.get_by_label("A corner that it lacks").select_option("none: it is a rectangle")
    expect(page.locator("#missing_width")).to_be_hidden()
    assert missing_on_map(page)[2:] == [0, 0]
