"""The evidence page pressed by a coach in a real browser."""

from __future__ import annotations

import datetime as dt
import re
from typing import Any

import pytest
from django.urls import reverse
from playwright.sync_api import expect

from missions.models import ChangeMark
from tests import factories as make


@pytest.fixture
def evidence(site: Any) -> Any:
    """Curlew ran eight times in the first tier; its robot was last changed long before."""
    _, editions = make.mission_with_tiers(site.club)
    make.ProgressFactory(team=site.team_a, tier=editions[0].tier)
    site.tier, site.edition = editions[0].tier, editions[0]
    site.robot_a.changed_at = make.NOW - dt.timedelta(days=90)
    site.robot_a.save()
    for _ in range(8):
        make.AttemptFactory(team=site.team_a, tier_version=editions[0], robot=site.robot_a, plan_number=1)
    return site


def test_a_coach_says_that_something_was_changed_and_takes_it_back(evidence, open_page, axe_clean):
    page = open_page(evidence.as_coach, reverse("evidence", args=[evidence.team_a.pk, evidence.tier.pk]))
    page.get_by_text("Something was changed").press("Enter")
    page.get_by_label("What was changed").select_option(label="Tyres or wheels")
    page.get_by_role("button", name="Yes, we changed it").press("Enter")
    expect(page.get_by_text("Tyres or wheels changed")).to_be_visible()
    mark = ChangeMark.objects.get()
    evidence.robot_a.refresh_from_db()
    assert (mark.by, evidence.robot_a.changed_at) == (evidence.coach, mark.at)
    axe_clean(page)
    page.get_by_role("button", name="Take it back").press("Enter")
    expect(page.get_by_text("Tyres or wheels changed")).to_have_count(0)
    evidence.robot_a.refresh_from_db()
    assert evidence.robot_a.changed_at < mark.at


def test_on_paper_the_runs_begin_under_the_verdict_and_nothing_asks_to_be_pressed(evidence, open_page):
    """Three sheets, where one of the verdict alone would make it four."""
    for _ in range(16):
        make.AttemptFactory(team=evidence.team_a, tier_version=evidence.edition, robot=evidence.robot_a, plan_number=1)
    page = open_page(evidence.as_coach, reverse("evidence", args=[evidence.team_a.pk, evidence.tier.pk]))
    margin = dict.fromkeys(("top", "bottom", "left", "right"), "12mm")
    assert len(re.findall(rb"/Type\s*/Page\b(?!s)", page.pdf(format="A4", margin=margin))) == 3
    page.emulate_media(media="print")
    expect(page.get_by_role("link", name="Take out")).to_have_count(0)
    expect(page.get_by_role("link", name="Change this tier")).to_have_count(0)
    expect(page.get_by_role("button")).to_have_count(0)


#: What is filled, drawn and written in which colours, of everything that the page shows.
_COLOURS = """() => [...document.querySelectorAll('main, main *')].filter((one) => one.getClientRects().length).map((one) => {
  const { color, backgroundColor, fill, stroke, borderTopColor } = getComputedStyle(one);
  return [one.tagName, one.getAttribute('class'), color, backgroundColor, fill, stroke, borderTopColor].join(' ');
})"""


def test_paper_is_the_same_whatever_the_screen_was(evidence, open_page):
    for miss in (-4.0, 3.0, 8.0):
        make.AttemptFactory(
            team=evidence.team_a, tier_version=evidence.edition, robot=evidence.robot_a, lateral_mm=miss, along_mm=-miss
        )
    address = reverse("evidence", args=[evidence.team_a.pk, evidence.tier.pk])
    printed = []
    for dark in (False, True):
        page = open_page(evidence.as_coach, address, dark=dark)
        page.emulate_media(media="print")
        printed.append(page.evaluate(_COLOURS))
    assert [one for one in printed[0] if one.startswith("rect window")], "where it met the target is drawn"
    assert printed[1] == printed[0]
