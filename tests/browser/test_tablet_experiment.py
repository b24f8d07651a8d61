"""Predict, run, compare: what a team thinks before a run, one change carried through, its guess before the answer."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import pytest
from django.utils import timezone

from classroom.access import TeamSeat
from classroom.models import TabletSession
from missions.models import Attempt, PlanTry
from planning.team.draft import DraftStep, TeamDraft, first_start
from planning.team.services.keep_draft import keep_draft
from tests import factories as make
from tests.browser.conftest import until_on
from tests.browser.test_tablet_log import answer, club, kept, log
from tests.planning.team.test_course import CLEAR
from tests.planning.team.test_diagnosis import runs

__all__ = ["club"]
pytestmark = pytest.mark.browser


def a_plan(club: Any) -> None:
    actions = [{"do": "turn", "by_deg": 30.0, "to_deg": 30.0}, {"do": "drive", "distance_mm": 400.0}]
    edition = club.tier.versions.get()
    make.CourseFactory(team=club.team_a, tier_version=edition, robot=club.robot_a, number=1, actions=actions)


def test_what_the_team_thinks_is_told_beside_what_came(
    club: Any, open_page: Callable[..., Any], axe_clean: Callable[[Any], None]
) -> None:
    page = open_page(club.as_team_a, "/team/log/", width=820, height=1180, touch=True)
    page.get_by_role("radio", name="It works").tap()
    page.get_by_text("Where will it meet").tap()
    box = page.locator("#say_pad").bounding_box()
    page.touchscreen.tap(box["x"] + box["width"] * 0.4, box["y"] + box["height"] * 0.5)
    assert "to the left" in page.locator("#say_pad-words").inner_text()
    axe_clean(page)
    answer(page, clean=False)
    page.locator("#in-numbers > summary").click()
    page.fill("#sideways", "4")
    page.get_by_role("button", name="Save this run").tap()
    said = page.locator(".beside")
    said.get_by_text("You said it would work. It did not yet.").wait_for()
    assert "it met: 4\xa0cm left" in said.inner_text()
    assert said.locator(".pad-said").count() == said.locator(".pad-met").count() == 1
    run = Attempt.objects.get()
    assert run.said_before["works"] is True
    assert run.said_before["lateral_mm"] > 0
    page.get_by_role("button", name="Log the next run").tap()
    assert page.locator(".before input:checked").count() == 0
    assert page.input_value("#say_sideways") == ""


def test_one_change_is_picked_pinned_to_the_next_runs_and_compared(club: Any, open_page: Callable[..., Any]) -> None:
    a_plan(club)
    page = open_page(club.as_team_a, "/team/log/")
    page.select_option("#change_step", "1")
    page.fill("#change_size", "3°")
    log(page, clean=False)
    page.get_by_role("heading", name="Run 1 is saved").wait_for()
    page.get_by_role("button", name="Log the next run").click()
    testing = page.locator("#testing")
    testing.get_by_text("step 1: 3° less").wait_for()
    page.route("**/team/runs/", lambda route: route.abort())
    log(page, clean=True)
    kept(page).get_by_text("Waiting for network (1)").wait_for()
    page.unroute("**/team/runs/")
    page.evaluate("dispatchEvent(new Event('online'))")
    page.locator(".helped").get_by_text("Before it: 0 of 1 run clean. With it: 1 of 1 run clean.").wait_for()
    page.reload()
    testing.get_by_text("Plan 1, try A").wait_for()
    log(page, clean=True)
    page.get_by_role("heading", name="Run 3 is saved").wait_for()
    trial = PlanTry.objects.get()
    assert (trial.letter, trial.words, trial.plan_number) == ("A", "step 1: 3° less", 1)
    assert Attempt.objects.earliest("made_at").change_to_try == "step 1: 3° less"
    runs = Attempt.objects.order_by("made_at")
    assert [(run.plan_number, run.trial) for run in runs] == [(1, None), (None, trial), (None, trial)]
    page.get_by_role("button", name="Log the next run").click()
    page.get_by_role("button", name="Stop this test").click()
    page.get_by_text("The test is over").wait_for()
    assert not page.locator("#testing").is_visible()


def test_a_change_picked_without_network_is_one_try_and_both_runs_are_kept(
    club: Any, open_page: Callable[..., Any]
) -> None:
    a_plan(club)
    page = open_page(club.as_team_a, "/team/log/")
    kept(page).get_by_text("Saved").wait_for()
    page.context.set_offline(True)
    page.select_option("#change_step", "1")
    page.fill("#change_size", "2 cm")
    page.select_option("#change_way", "more")
    log(page, clean=False)
    page.get_by_role("button", name="Log the next run").click()
    log(page, clean=True)
    page.get_by_role("button", name="Log the next run").click()
    page.uncheck("#trial")
    log(page, clean=True)
    page.context.set_offline(False)
    until_on(page, lambda: Attempt.objects.count() == 3, "all three runs")
    assert [bool(run.trial) for run in Attempt.objects.order_by("made_at")] == [False, True, False]
    assert PlanTry.objects.get().words == "step 1: 2 cm more"


def test_a_run_over_the_limit_says_by_how_much(club: Any, open_page: Callable[..., Any]) -> None:
    club.tier.versions.update(time_limit_s=60)
    page = open_page(club.as_team_a, "/team/log/")
    page.context.set_offline(True)
    log(page, clean=True, seconds="65")
    assert page.locator("#after").get_by_text("5 s too slow: not clean yet").is_visible()
    page.context.set_offline(False)
    page.locator("#what-it-says").get_by_text("5 s too slow: not clean yet.").wait_for()


def test_the_tablets_own_numbers_are_pinned_by_a_press_and_typed_before_the_next_run(
    club: Any, open_page: Callable[..., Any]
) -> None:
    seat = TeamSeat(club.team_a, TabletSession.objects.get(team=club.team_a))
    edition = club.tier.versions.get()
    draft = TeamDraft(first_start(edition), tuple(DraftStep(*each) for each in CLEAR))
    plan = keep_draft(seat, edition, club.robot_a, draft, base=0, now=timezone.now())
    last = runs(plan, [(2, 74), (0, 78), (-3, 71), (1, 76), (2, 75), (0, 74)])
    page = open_page(club.as_team_a, f"/team/log/{last.uuid}/")
    for fold in ("What the tablet found", "A hint: what to try?", "One more: the numbers to try"):
        page.locator("summary", has_text=fold).click()
    page.get_by_role("button", name="Test these numbers in your next runs").click()
    page.wait_for_url("**/team/log/**")
    page.get_by_text(f"Plan {plan.number}, try A.").wait_for()
    log(page, clean=True)
    page.get_by_role("heading", name="is saved").wait_for()
    assert Attempt.objects.latest("made_at").trial == PlanTry.objects.get()


def test_we_lifted_it_is_an_answer(club: Any, open_page: Callable[..., Any]) -> None:
    page = open_page(club.as_team_a, "/team/log/")
    answer(page, clean=False)
    page.get_by_role("radio", name="We lifted it").check(force=True)
    page.get_by_role("button", name="Save this run").click()
    page.get_by_role("heading", name="Run 1 is saved").wait_for()
    assert Attempt.objects.get().cause == "lifted"
