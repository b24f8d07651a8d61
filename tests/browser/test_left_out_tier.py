"""A tier that is no longer offered, as the coach's and the team's pages show it."""

from __future__ import annotations

import re
from typing import Any

import pytest
from django.urls import reverse

from tests import factories as make
from tests.missions.ladder.test_left_out_tier import publish_tiers


@pytest.fixture
def bank(site: Any) -> Any:
    mission, rows = make.mission_with_tiers(site.club)
    for row in rows[:2]:
        make.ProgressFactory(team=site.team_a, tier=row.tier)
    publish_tiers(mission, site.coach, [0, 2])
    return rows[1].tier


@pytest.mark.parametrize(("width", "dark"), [(320, True), (1280, False)], ids=["320-dark", "1280-light"])
def test_board_evidence_editor_and_tablet_are_clean_for_axe_and_fit(
    site: Any, bank: Any, open_page: Any, axe_clean: Any, width: int, dark: bool
) -> None:
    mission = bank.mission_id
    for client, address, words in (
        (site.as_coach, reverse("board_mission", args=[mission]), "No longer offered"),
        (site.as_coach, reverse("evidence", args=[site.team_a.pk, bank.pk]), "no longer offered"),
        (site.as_coach, reverse("mission_edit", args=[mission]), "Bring back"),
        (site.as_team_a, reverse("team_mission"), "no longer offered"),
    ):
        page = open_page(client, address, width=width, dark=dark)
        page.get_by_text(words).first.wait_for()
        axe_clean(page)
        assert page.evaluate("document.documentElement.scrollWidth") <= width
        page.close()


def test_a_tier_is_brought_back_with_a_button_and_published_as_the_one_it_was(
    site: Any, bank: Any, open_page: Any
) -> None:
    page = open_page(site.as_coach, reverse("mission_edit", args=[bank.mission_id]))
    page.wait_for_selector("#map[role=application]")
    page.get_by_role("button", name="Bring back “With obstacle”").click()
    page.get_by_text(re.compile(r"is back as tier \d, as it was last published")).wait_for()
    with page.expect_response("**/edit/"):
        page.locator(".savebar button").click()
    page.get_by_text("Draft of version 3").wait_for()
    draft = bank.mission.versions.get(number=3)
    assert list(draft.tier_versions.values_list("tier_id", flat=True)).index(bank.pk) == 1  # its old place
