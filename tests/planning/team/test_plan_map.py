"""The map of a kept plan: where its runs met the target."""

from __future__ import annotations

from typing import Any

import pytest

from planning.models import Course
from tests import factories as make
from tests.pages import page_of
from tests.planning.team.test_course import CLEAR, draft_json, edition

__all__ = ["edition"]
pytestmark = pytest.mark.django_db


def test_the_map_of_a_plan_shows_where_its_runs_met(cast: Any, edition: Any) -> None:
    cast.as_team_a.post("/team/course/", {"draft": draft_json(CLEAR), "do": "keep"})
    plan = Course.objects.get()
    assert "chart-met" not in page_of(cast.as_team_a.get(f"/team/course/{plan.pk}/"))
    for left in (0.0, 12.0):
        make.AttemptFactory(
            team=cast.team_a, tier_version=edition, robot=cast.robot_a, plan_number=1, lateral_mm=left, along_mm=0.0
        )
    make.AttemptFactory(
        team=cast.team_a, tier_version=edition, robot=cast.robot_a, plan_number=2, lateral_mm=9, along_mm=9
    )
    page = page_of(cast.as_team_a.get(f"/team/course/{plan.pk}/"))
    assert page.count("chart-met") == 2 and "Dots: where your last 2 runs met." in page
