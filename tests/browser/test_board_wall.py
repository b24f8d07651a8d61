"""The board for the room: nothing of it is cut off, whatever the names."""

from __future__ import annotations

import datetime as dt

import pytest
from django.urls import reverse
from django.utils import timezone
from playwright.sync_api import expect

from missions.readiness.services.evidence import refresh_evidence
from tests import factories as make
from tests.browser.test_board import ladder

__all__ = ["ladder"]


@pytest.mark.parametrize(("width", "height"), [(1024, 768), (1280, 800), (1920, 1080)])
def test_a_wall_with_runs_in_every_tier_is_cut_off_nowhere(ladder, open_page, width, height):
    now = timezone.now()
    for edition in ladder.editions[1:]:
        progress = make.ProgressFactory(team=ladder.team_b, tier=edition.tier, opened_at=now - dt.timedelta(days=9))
        for i in range(10):
            at = now - dt.timedelta(days=1, minutes=20 - i)
            make.AttemptFactory(team=ladder.team_b, tier_version=edition, success=i % 2 == 0, made_at=at)
        refresh_evidence(progress, now)
    page = open_page(ladder.as_coach, reverse("projector", args=[ladder.mission.pk]), width=width, height=height)
    expect(page.locator(".wall-table .strip")).to_have_count(4)
    assert page.eval_on_selector(".scroll", "e => e.scrollWidth - e.clientWidth") <= 1


LONG_NAMES = ("Neugierige Strandläufer", "Donaudampfschifffahrtsgesellschaftsboot", "المستكشفون الصغار", "צוות הגלים")


@pytest.mark.parametrize(("width", "height"), [(360, 740), (820, 1180), (1280, 800)])
def test_long_names_and_names_from_right_to_left_are_whole_on_the_wall_and_fit_every_page(
    ladder, open_page, width, height
):
    now = timezone.now()
    for number, name in enumerate(LONG_NAMES):
        team = make.TeamFactory(club=ladder.club, name=name[:40], order=20 + number)
        make.MembershipFactory(
            team=team, member__club=ladder.club, member__nickname="Maximilian-Alexander-Ferdinand-Leopold"
        )
        make.ProgressFactory(team=team, tier=ladder.editions[0].tier, opened_at=now)
    page = open_page(ladder.as_coach, reverse("projector", args=[ladder.mission.pk]), width=width, height=height)
    assert page.eval_on_selector(".scroll", "e => e.scrollWidth - e.clientWidth") <= 1, "no column is cut"
    cut = "all => all.filter(one => one.scrollWidth > one.clientWidth + 1).map(one => one.textContent.trim())"
    assert page.eval_on_selector_all(".wall-table :is(th, td)", cut) == []
    wide = {}
    for path in (
        "/",
        "/today/",
        "/families/",
        "/teams/",
        f"/teams/{team.pk}/",
        f"/members/{team.memberships.get().member_id}/",
    ):
        page.goto(path)
        if page.evaluate("document.documentElement.scrollWidth") > width:
            wide[path] = page.evaluate("document.documentElement.scrollWidth")
    assert wide == {}
