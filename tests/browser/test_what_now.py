"""A team presses what the mission's page says to do now, again and again, until it logs a run."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import pytest
from playwright.sync_api import expect

from classroom.robots.services.calibrate import record_calibration
from tests import factories as make
from tests.browser.test_tablet_log import club
from tests.classroom.robots.test_kinds import MEASURED

__all__ = ["club"]
pytestmark = pytest.mark.browser


def test_each_next_act_leads_by_a_press_to_where_it_is_done(club: Any, open_page: Callable[..., Any]) -> None:
    page = open_page(club.as_team_a, "/team/mission/", width=820, height=1180, touch=True)
    now = page.get_by_role("region", name="What now?")
    for called, key in (("straight runs", "straight"), ("spins", "spin")):
        expect(now).to_contain_text(f"Measure {called} of {club.robot_a.name}: never done.")
        now.get_by_role("link", name="Measure it").tap()
        page.wait_for_url(f"**/team/robot/{key}/")
        record_calibration(club.robot_a, key, "table mat", MEASURED[key], now=make.NOW)
        page.get_by_role("link", name="Our mission").tap()
    expect(now).to_contain_text("Draw your first course.")
    now.get_by_role("link", name="Draw our course").tap()
    page.wait_for_url(f"**/team/course/?tier={club.tier.pk}")
    edition = club.tier.versions.get()
    make.CourseFactory(
        team=club.team_a, tier_version=edition, robot=club.robot_a, number=1, check_result={"clear": True}
    )
    page.get_by_role("link", name="Our mission").tap()
    expect(now).to_contain_text("Run plan 1 for the first time, and look where it meets.")
    now.get_by_role("link", name="Log a run").tap()
    page.wait_for_url(f"**/team/log/?tier={club.tier.pk}&plan=1")
    assert page.locator('[name="plan"]').input_value() == "1", "the run is one of the plan that was named"
