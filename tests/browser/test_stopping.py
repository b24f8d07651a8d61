"""Each Stop of a job that is not a course's, pressed where it is shown; the page says so without a reload."""

from __future__ import annotations

from typing import Any

import pytest
from django.urls import reverse
from playwright.sync_api import expect

from planning.jobs.services.run_job import run_next_job
from planning.models import Job
from tests.browser.day_world import an_afternoon
from tests.browser.test_several_targets import editor, mission

__all__ = ["editor", "mission"]


@pytest.fixture
def day(site: Any) -> Any:
    site.world = an_afternoon(site)
    return site


def states() -> list[str]:
    return sorted(Job.objects.values_list("state", flat=True))


def test_tiers_are_no_longer_asked_about_and_others_are(editor: Any, axe_clean: Any) -> None:
    """“Timed” is drawn as “With obstacle”: one job answers for both."""
    editor.get_by_role("button", name="Ask the planner").click()
    answers = editor.locator("#can-do-answers")
    expect(answers.get_by_text("Waiting for its turn")).to_have_count(3)
    answers.get_by_role("button", name="Stop: Timed").press("Enter")
    expect(answers.get_by_text("was stopped before it had an answer; ask again")).to_have_count(2)
    expect(answers.get_by_text("Waiting for its turn")).to_have_count(1)
    axe_clean(editor)
    assert states() == ["cancelled", "waiting"]
    editor.get_by_role("button", name="Ask the planner").click()
    expect(answers.get_by_text("Waiting for its turn")).to_have_count(3)


def test_a_search_for_places_is_stopped(editor: Any) -> None:
    editor.get_by_role("button", name="Propose places").click()
    places = editor.locator("#places")
    stop = places.get_by_role("button", name="Stop: looking for places")
    stop.wait_for()
    stop.press("Enter")
    expect(places).to_contain_text("The search was stopped; ask again.")
    assert states() == ["cancelled"]


def test_a_check_before_publishing_is_stopped(site: Any, mission: Any, open_page: Any, axe_clean: Any) -> None:
    page = open_page(site.as_coach, f"/missions/{mission.pk}/publish/")
    page.get_by_role("button", name="Check all tiers").click()
    stop = page.locator("#publish").get_by_role("button", name="Stop: Timed")
    stop.wait_for()
    axe_clean(page)
    stop.press("Enter")
    expect(page.locator("#publish").get_by_text("was stopped before it had an answer; ask again")).to_have_count(2)
    page.get_by_role("button", name="Check all tiers").click()
    stop.wait_for()


def test_a_press_is_heard_though_the_part_is_drawn_anew_between_the_fingers_going_down_and_up(
    site: Any, mission: Any, open_page: Any
) -> None:
    """The part asks for itself each second while the check waits."""
    page = open_page(site.as_coach, f"/missions/{mission.pk}/publish/")
    page.get_by_role("button", name="Check all tiers").click()
    page.locator("#publish").get_by_role("button", name="Stop: Timed").hover()
    page.mouse.down()
    for _ in range(2):
        page.wait_for_event("response", lambda answer: answer.request.headers.get("hx-request") == "true")
    page.wait_for_timeout(300)  # what was answered would stand in the page by now
    page.mouse.up()
    expect(page.locator("#publish").get_by_text("was stopped before it had an answer; ask again")).to_have_count(2)


def test_drafting_for_families_is_stopped_and_begun_again(site: Any, open_page: Any, axe_clean: Any) -> None:
    page = open_page(site.as_coach, reverse("families"))
    page.get_by_role("button", name="Draft new words").click()
    drafts = page.locator("#drafts-job")
    expect(drafts).to_contain_text("Drafts wait for their turn")
    axe_clean(page)
    drafts.get_by_role("button", name="Stop: drafting").press("Enter")
    expect(drafts).to_contain_text("Drafting was stopped")
    assert states() == ["cancelled"] and not run_next_job()
    page.get_by_role("button", name="Draft new words").click()
    expect(page.locator("#drafts-job")).to_contain_text("Drafts wait for their turn")


def test_looking_for_a_better_rota_is_stopped_and_begun_again_by_a_press_only(
    day: Any, open_page: Any, axe_clean: Any
) -> None:
    page = open_page(day.as_coach, "/today/")
    page.get_by_role("button", name="Plan the rota").click()
    page.get_by_role("button", name="Stop: looking for a better rota").press("Enter")
    expect(page.locator("#rota-better")).to_contain_text("The search was stopped; the rota stays as it is.")
    axe_clean(page)
    page.reload()
    expect(page.locator("#rota-better")).to_contain_text("The search was stopped")
    page.get_by_role("button", name="Look for a better one").press("Enter")
    page.get_by_role("button", name="Stop: looking for a better rota").wait_for()
    assert states() == ["cancelled", "waiting"]


def test_asking_is_heard_though_an_answer_comes_just_before(editor: Any) -> None:
    """What the page asks by itself each second must not put away the place that the answer to a press goes to."""
    editor.get_by_role("button", name="Ask the planner").click()
    answers = editor.locator("#can-do-answers")
    expect(answers.get_by_text("Waiting for its turn")).to_have_count(3)
    Job.objects.update(state="cancelled")
    held: list[Any] = []
    editor.route(
        "**/can-it-be-done/**",
        lambda route: held.append(route) if route.request.method == "POST" else route.continue_(),
    )
    editor.get_by_role("button", name="Ask the planner").click()
    editor.wait_for_timeout(2500)  # long enough for two of the page's own questions
    (held_back,) = held
    held_back.continue_()
    expect(answers.get_by_text("Waiting for its turn")).to_have_count(3)
