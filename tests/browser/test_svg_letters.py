"""Letters of every drawing on the pages that are looked at most: 9 px and more as they are shown, or left out."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import pytest
from django.urls import reverse

from classroom.models import Club, Robot, Session, Team, Term
from missions.models import Attempt, Mission
from planning.models import Course
from tests.browser.test_every_press import client_of, demonstration

__all__ = ["demonstration"]

#: Every text of an svg that is to be seen, folds opened: how high its letters are on the screen.
LETTERS = """() => {
  for (const fold of document.querySelectorAll('details')) fold.open = true;
  return [...document.querySelectorAll('svg text')]
    .filter(text => text.textContent.trim() && text.checkVisibility({ visibilityProperty: true, opacityProperty: true }))
    .filter(text => text.getBoundingClientRect().height > 0)
    .map(text => {
      const matrix = text.getScreenCTM(), scale = Math.hypot(matrix.a, matrix.b);
      return [parseFloat(getComputedStyle(text).fontSize) * scale, text.textContent.trim()];
    });
}"""


def drawings_of(club: Club) -> dict[str, dict[str, str]]:
    """Pages with drawings by who looks at them and what they are, each with its address."""
    mission = Mission.objects.filter(club=club).order_by("pk")[0]
    curlew = Team.objects.get(name="Curlew")
    seen = Attempt.objects.filter(team=curlew).exclude(lateral_mm=None).order_by("pk")[0]
    measured = Robot.objects.exclude(calibrations=None).order_by("pk")[0]
    session = Session.objects.order_by("starts_at")[0]
    plan = Course.objects.order_by("pk")[0]
    return {
        "guardian": {"the family's page": "/family/"},
        "team": {name: f"/team/{name}/" for name in ("mission", "course", "log", "robot")},
        "lead": {
            "the board": "/",
            "today": "/today/",
            "a mission": reverse("mission", args=[mission.pk]),
            "the editor": reverse("mission_edit", args=[mission.pk]),
            "set-up sheets": reverse("setup_sheets", args=[mission.pk]),
            "evidence": reverse("evidence", args=[curlew.pk, seen.tier_version.tier_id]),
            "a plan": reverse("course", args=[plan.pk]),
            "a card": reverse("course_card", args=[plan.pk]),
            "the term in pictures": reverse("term_progress", args=[Term.objects.get().pk]),
            "a robot": reverse("robot", args=[measured.pk]),
            "the wall": reverse("session_wall", args=[session.pk]),
            "the projector": reverse("projector", args=[mission.pk]),
        },
    }


@pytest.mark.slow
def test_letters_of_every_drawing_are_readable_at_every_width(
    demonstration: Club, open_page: Callable[..., Any]
) -> None:
    measured, small = dict.fromkeys(("guardian", "team", "lead"), 0), {}
    for role, pages in drawings_of(demonstration).items():
        page = open_page(client_of(demonstration, role), demonstration.family_link if role == "guardian" else "/")
        if role == "guardian":
            page.locator("main form button").click()
            page.wait_for_url("**/family/")
        for name, address in pages.items():
            page.goto(address)
            page.wait_for_load_state("networkidle")
            for width in (360, 820, 1280):
                page.set_viewport_size({"width": width, "height": 800})
                page.wait_for_timeout(250)  # maps are lettered anew for their size
                letters = page.evaluate(LETTERS)
                measured[role] += len(letters)
                if wrong := [each for each in letters if each[0] < 9]:
                    small[name, width] = min(wrong)
    assert small == {}
    assert measured["guardian"] >= 9 and measured["team"] > 100 and measured["lead"] > 500
