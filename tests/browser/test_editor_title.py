"""A title that another mission of the club has: said under the box, by the press that asked for it."""

from __future__ import annotations

import re

from playwright.sync_api import expect

from tests import factories as make


def test_a_title_that_another_mission_has_is_refused_under_the_box_and_nothing_is_saved(site, open_page):
    mission, _tiers = make.mission_with_tiers(site.club)
    other, _more = make.mission_with_tiers(site.club)
    was = mission.title
    page = open_page(site.as_coach, f"/missions/{mission.pk}/edit/", height=1000)
    page.wait_for_selector("#map[role=application]")
    page.locator("#title").fill(other.title)
    page.get_by_role("button", name="Save the draft").first.click()
    expect(page.get_by_text("There is already a mission called").locator("visible=true").first).to_be_visible()
    assert page.locator("#title").input_value() == other.title, "what was typed stays"
    mission.refresh_from_db()
    assert mission.title == was
    page.locator("#title").fill("Sluice")
    page.get_by_role("button", name="Save the draft").first.click()
    expect(page.get_by_role("status").filter(has_text=re.compile(r"^\W*Saved"))).to_be_visible()
    page.reload()
    expect(page.locator("#title")).to_have_value("Sluice")
