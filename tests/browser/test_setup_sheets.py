"""Set-up sheets on paper: one page a tier, however much or little there is to set up."""

from __future__ import annotations

import re
from typing import Any

import pytest
from django.urls import reverse

from classroom.models import SafetyCard
from missions.day.services.safety_cards import ensure_safety_cards
from tests import factories as make

STEPS = [
    "Lay the mat flat and tape its corners down.",
    "Stand the gate on its mark, hinge towards the far edge.",
    "Check that the gate moves with one finger and stops by itself.",
    "Mark the robot's start with two strips of tape.",
]


def posts(many: int) -> list[dict[str, Any]]:
    """Things of all kinds of names, each second one askew."""
    found = []
    for n in range(many):
        x, y, lean = 620 + 140 * n, 80 + 130 * n, 20 * (n % 2)
        outline = [[x, y], [x + 80, y + lean], [x + 80, y + 80 + lean], [x, y + 80]]
        found.append({"name": f"mooring post {n + 1}", "outline": outline})
    return found


@pytest.mark.parametrize("paper", ["A4", "Letter"])
@pytest.mark.parametrize("unit", ["cm", "in", "mm"])
@pytest.mark.parametrize("steps", [0, 2, 4, 8])
def test_every_tier_stays_on_its_page(site: Any, open_page: Any, paper: str, unit: str, steps: int) -> None:
    site.club.unit = unit
    site.club.save()
    ensure_safety_cards(site.club)
    site.coach.user.first_name = "Coach Marram of the Saltmarsh"
    site.coach.user.save()
    SafetyCard.objects.filter(club=site.club).update(checked_on=make.NOW.date(), checked_by=site.coach)
    mission = make.MissionFactory(club=site.club, title="Causeway crate")
    version = make.MissionVersionFactory(
        mission=mission,
        summary="Push the crate past the line, come home",
        setup_steps=(STEPS * 2)[:steps],
        safety_notes="Pick the crate up only when the robot has **stopped**.",
    )
    for many in range(7):
        tier = make.TierFactory(mission=mission, order=many + 1, name=f"With {many} in the way")
        make.TierVersionFactory(tier=tier, version=version, obstacles=posts(many), time_limit_s=45.0)
    page = open_page(site.as_coach, reverse("setup_sheets", args=[mission.pk]))
    assert page.locator(".sheet").count() == 7
    assert len(re.findall(rb"/Type\s*/Page\b", page.pdf(format=paper))) == 7


@pytest.mark.parametrize("width", [320, 360, 480])
def test_a_wide_table_fits_a_telephone_and_its_measures_are_the_list_below(
    site: Any, open_page: Any, width: int
) -> None:
    mission = make.MissionFactory(club=site.club)
    version = make.MissionVersionFactory(mission=mission, width_mm=2400, depth_mm=1150)
    tier = make.TierFactory(mission=mission)
    make.TierVersionFactory(tier=tier, version=version, obstacles=posts(3))
    page = open_page(site.as_coach, reverse("setup_sheets", args=[mission.pk]), width=width, height=740)
    assert page.locator(".plan.wide").count() == 1
    assert page.evaluate("document.documentElement.scrollWidth") <= width
    wider = "all => all.filter(e => /auto|scroll/.test(getComputedStyle(e).overflowX) && e.scrollWidth > e.clientWidth)"
    assert page.eval_on_selector_all(".sheet *", f"{wider}.length") == 0
    small = "all => all.map(e => [e.textContent.trim(), e.getBoundingClientRect().height]).filter(([_, high]) => high && high < 9)"  # what is not drawn has no height
    assert page.eval_on_selector_all(".plan text", small) == [], "letters of the drawing that nobody can read"
    drawn = "all => all.filter(e => e.getBoundingClientRect().height).map(e => e.textContent.trim())"
    assert {"A", "B", "C", "D", "E"} <= set(page.eval_on_selector_all(".plan text", drawn))
    table = page.locator(".measures tr", has_text="Table")
    assert table.locator("td").all_inner_texts()[1:] == ["240", "115"]
    outside = """() => { const box = document.querySelector('.plan-frame').getBoundingClientRect();
      const table = document.querySelector('.plan-table').getBoundingClientRect();
      return table.left < box.left - 1 || table.right > box.right + 1; }"""
    assert not page.evaluate(outside), "the table is whole"


@pytest.mark.parametrize("width", [360, 1280])
def test_a_sheet_on_a_screen_has_letters_that_are_read(site: Any, open_page: Any, width: int) -> None:
    ensure_safety_cards(site.club)
    mission = make.MissionFactory(club=site.club)
    version = make.MissionVersionFactory(mission=mission, setup_steps=STEPS * 2)
    make.TierVersionFactory(tier=make.TierFactory(mission=mission), version=version, obstacles=posts(6))
    page = open_page(site.as_coach, reverse("setup_sheets", args=[mission.pk]), width=width)
    small = "all => all.filter(e => e.checkVisibility() && parseFloat(getComputedStyle(e).fontSize) < 12).map(e => e.className)"
    assert page.eval_on_selector_all(".sheet :is(p, li, td, th, b, h3)", small) == []
