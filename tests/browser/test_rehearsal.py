"""A course played on its map in a real browser: by press, by keys, with less motion, and against the course's own numbers."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import pytest
from django.urls import reverse
from django.utils import timezone

from motion.picture.rehearsal import rehearse
from planning.courses.plan_today import plan_today
from planning.courses.services.save_revision import save_revision
from planning.team.draft import draft_actions, read_draft
from tests import factories as make
from tests.browser.conftest import until_on
from tests.planning.team.test_course import CLEAR, draft_json

pytestmark = pytest.mark.browser


@pytest.fixture
def course(site: Any) -> Any:
    _, editions = make.mission_with_tiers(site.club)
    make.ProgressFactory(team=site.team_a, tier=editions[1].tier)
    draft = read_draft({"draft": draft_json(CLEAR)}, site.robot_a, editions[1])
    actions = draft_actions(draft, site.robot_a)
    return save_revision(site.team_a, editions[1], site.robot_a, draft.start, actions, now=timezone.now())


def opened(page: Any) -> Any:
    page.get_by_role("button", name="Rehearse it").click()
    page.locator(".rehearsal-layer").wait_for(state="attached")
    return page


def drawn(page: Any) -> list[float]:
    return [float(each) for each in page.locator(".rehearsal-layer").get_attribute("data-pose").split()]


def slate(page: Any) -> str:
    return " ".join(page.locator("[data-rehearse=now]").inner_text().split())


def expected(course: Any, seconds: float) -> Any:
    today = plan_today(course)
    pose = rehearse(today.scene, today.start, today.true).frame(seconds).pose
    return pytest.approx([pose.x_mm, pose.y_mm, pose.heading_deg], abs=0.1)


def test_the_coachs_map_shows_each_step_where_the_check_has_it(site: Any, course: Any, open_page: Callable[..., Any], axe_clean: Any) -> None:  # fmt: skip
    page = opened(open_page(site.as_coach, reverse("course", args=[course.pk]), reduced_motion="reduce"))
    check = plan_today(course).check
    assert page.get_by_role("button", name="Run it through").is_hidden()
    assert "step by step" in page.locator("[data-rehearse=still]").inner_text()
    assert slate(page).startswith("1 Drive 118 cm")
    for pose in check.poses[1:]:
        page.get_by_role("button", name="One step on").click()
        assert drawn(page) == pytest.approx([pose.x_mm, pose.y_mm, pose.heading_deg], abs=0.1)
    page.get_by_role("button", name="One step back").click()
    assert drawn(page)[:2] == pytest.approx([check.poses[-2].x_mm, check.poses[-2].y_mm], abs=0.1)
    axe_clean(page)


def test_it_runs_and_stops_by_keys_and_what_is_drawn_between_is_the_course(site: Any, course: Any, open_page: Callable[..., Any]) -> None:  # fmt: skip
    page = opened(open_page(site.as_coach, reverse("course", args=[course.pk])))
    page.locator("#rehearsal-deck").focus()
    page.keyboard.press("Space")
    layer = page.locator(".rehearsal-layer")
    until_on(page, lambda: float(layer.get_attribute("data-at")) > 1.0, "the robot is under way")
    page.keyboard.press("Space")
    at = float(layer.get_attribute("data-at"))
    assert drawn(page) == expected(course, at)
    assert page.get_by_role("button", name="Run it through").is_visible()
    page.keyboard.press("ArrowLeft")
    assert float(layer.get_attribute("data-at")) == 0
    page.keyboard.press("ArrowRight")
    until_on(page, lambda: slate(page).startswith("2 Turn left"), "the step was driven to its end")
    assert drawn(page) == expected(
        course, plan_today(course).check.duration_s and float(layer.get_attribute("data-at"))
    )
    page.keyboard.press("Home")
    assert float(layer.get_attribute("data-at")) == 0


def test_failed_pretend_runs_bear_a_shape_and_a_word_and_can_be_left_out(site: Any, course: Any, open_page: Callable[..., Any]) -> None:  # fmt: skip
    page = opened(
        open_page(site.as_team_a, reverse("team_plan", args=[course.pk]), touch=True, reduced_motion="reduce")
    )
    assert page.locator(".rehearsal-ghost").count() == 20
    assert page.locator(".rehearsal-mark:visible").count() == 0
    for _ in CLEAR:
        page.get_by_role("button", name="One step on").click()
    record = site.as_team_a.get(reverse("team_rehearsal", args=[course.pk])).json()
    failing = [ghost for ghost in record["ghosts"] if ghost["fails"]]
    assert failing, "a kit's usual robot fails now and then"
    assert page.locator(".rehearsal-mark:visible .rehearsal-shape").count() == len(failing)
    words = {ghost["fails"]["word"] for ghost in failing}
    told = page.locator(".rehearsal-word:visible").all_text_contents()
    assert {word for line in told for word in line.split(", ")} == words
    assert len(page.locator("[data-rehearse=tally] li").all()) == len(record["tally"])
    page.get_by_label("With pretend runs").uncheck()
    assert page.locator(".rehearsal-mark:visible").count() == 0


def test_a_check_that_is_answered_late_ends_no_rehearsal_of_the_same_draft(site: Any, course: Any, open_page: Callable[..., Any]) -> None:  # fmt: skip
    page = open_page(site.as_team_a, "/team/mission/", width=820, height=1180, service_workers="block")
    held: list[Any] = []
    page.route(
        "**/team/course/", lambda route: held.append(route) if route.request.method == "POST" else route.continue_()
    )
    page.goto("/team/course/")
    opened(page)
    page.get_by_role("button", name="One step on").click()
    assert len(held) == 1
    held[0].continue_()
    page.locator("#course[data-seen='1']").wait_for()
    assert page.locator(".chart .rehearsal-layer").count() == 1
    assert page.get_by_role("button", name="Close it").is_visible()
    assert page.locator(".rehearsal [role=alert]").is_hidden()


def test_a_draft_that_changes_while_it_is_asked_about_is_not_played(site: Any, course: Any, open_page: Callable[..., Any]) -> None:  # fmt: skip
    page = open_page(site.as_team_a, "/team/mission/", width=820, height=1180, service_workers="block")
    held: list[Any] = []
    page.route("**" + reverse("team_draft_rehearsal"), lambda route: held.append(route))
    page.goto("/team/course/")
    page.get_by_role("button", name="Rehearse it").click()
    page.locator(".adders").get_by_role("button", name="Wait", exact=True).click()
    until_on(page, lambda: held, "the rehearsal to be asked for")
    held[0].continue_()
    page.get_by_text("The draft has changed.").wait_for()
    assert page.locator(".rehearsal-layer").count() == 0


def test_a_draft_is_rehearsed_before_it_is_kept_and_again_when_it_has_changed(site: Any, course: Any, open_page: Callable[..., Any]) -> None:  # fmt: skip
    page = open_page(site.as_team_a, "/team/course/", width=820, height=1180, touch=True, reduced_motion="reduce")
    page.locator(".verdict .chip", has_text="Clear").wait_for()
    opened(page)
    page.get_by_role("button", name="One step on").click()
    assert slate(page).startswith("2 Turn left")
    page.locator(".adders").get_by_role("button", name="Wait", exact=True).click()
    page.get_by_text("The draft has changed.").wait_for()
    opened(page)
    assert page.locator(".rehearsal-layer").count() == 1
