"""Small things of missions and the log that must be said where they stand, by press in a browser."""

from __future__ import annotations

import datetime as dt
from collections.abc import Callable
from typing import Any

import pytest
from django.utils import timezone

from missions.editor.rules.first_document import first_document
from missions.ladder.services.edit_mission import start_mission
from missions.models import MissionVersion
from missions.readiness.services.progress import pass_tier
from tests import factories as make

pytestmark = pytest.mark.browser


def test_the_empty_list_leads_to_the_first_mission(
    site: Any, open_page: Callable[..., Any], axe_clean: Callable[[Any], None]
) -> None:
    page = open_page(site.as_coach, "/missions/")
    axe_clean(page)
    page.get_by_role("link", name="Make the first mission").click()
    page.get_by_label("Title").wait_for()


def test_two_versions_stand_side_by_side(
    site: Any, open_page: Callable[..., Any], axe_clean: Callable[[Any], None]
) -> None:
    mission, editions = make.mission_with_tiers(site.club)
    second = make.MissionVersionFactory(mission=mission, number=2, width_mm=1800, summary="Shut it twice")
    for edition in editions:
        make.TierVersionFactory(version=second, tier=edition.tier, order=edition.order, obstacles=edition.obstacles)
    page = open_page(site.as_coach, f"/missions/{mission.pk}/")
    with page.expect_navigation():
        page.get_by_role("link", name="Versions side by side").click()
    row = page.get_by_role("row", name="Table")
    assert row.locator("td").all_inner_texts() == ["240\xa0cm by 120\xa0cm", "180\xa0cm by 120\xa0cm"]
    axe_clean(page)
    page.get_by_label("beside version").select_option("1")
    page.get_by_role("button", name="Show them").click()
    page.get_by_text("Both say the same.").wait_for()


def test_the_log_names_tiers_teams_and_links(site: Any, open_page: Callable[..., Any]) -> None:
    from classroom.club.services.audit import note_in_audit

    mission, editions = make.mission_with_tiers(site.club)
    make.ProgressFactory(team=site.team_a, tier=editions[0].tier)
    now = timezone.now()
    pass_tier(site.coach, site.team_a, editions[0].tier, "Seen it", now)
    note_in_audit(site.club, site.link_a, "opened summary", f"link:{site.link_a.pk}", now=now)
    page = open_page(site.as_coach, "/settings/log/")
    page.get_by_text(f"Overruled the rule: team Curlew, {mission.title}, Plain route").wait_for()
    page.get_by_text("Opened summary: the family link of Robin").wait_for()


def test_a_board_of_a_day_before_the_club_says_so(site: Any, open_page: Callable[..., Any]) -> None:
    mission, _ = make.mission_with_tiers(site.club)
    before = (make.NOW - dt.timedelta(days=400)).date()
    page = open_page(site.as_coach, f"/readiness/{mission.pk}/?on={before}")
    page.get_by_text("The club was not here yet on").wait_for()


def test_what_markdown_drops_is_said_beside_the_preview_and_a_long_name_stays_in_the_map(
    site: Any, open_page: Callable[..., Any]
) -> None:
    mission = start_mission(site.club, site.coach, first_document("Fog bell", 2400, 1200), now=make.NOW)
    page = open_page(site.as_coach, f"/missions/{mission.pk}/edit/", height=1000)
    page.wait_for_selector("#map[role=application]")
    page.locator('[data-group="words"] > summary').click()
    page.locator("#brief").fill("Look ![a bell](bell.png) and <b>ring</b> it.\n\n[More](https://example.org)")
    page.locator("#brief").press("Tab")
    page.get_by_text("Not shown to teams: pictures, links (their words stay), HTML (it is shown as typed).").wait_for()
    page.locator('[data-shape="body"] > summary').click()
    page.locator("#target_name").fill("a bell that rings " * 4 + "in fog")
    page.locator("#target_name").press("Tab")
    inside = """() => { const map = document.querySelector('#map svg .ed-edge').getBoundingClientRect();
      return [...document.querySelectorAll('#map svg text')].every((text) => { const box = text.getBoundingClientRect();
        return box.left >= map.left - 2 && box.right <= map.right + 2; }); }"""
    assert page.evaluate(inside)
    assert MissionVersion.objects.count() == 1
