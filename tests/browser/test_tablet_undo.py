"""Nothing that a team taps on its tablet is for good: every tap has its undo."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import pytest
from playwright.sync_api import expect

from missions.models import Attempt
from tests.browser.conftest import until_on
from tests.browser.test_tablet_log import club, kept, log

__all__ = ["club"]
pytestmark = pytest.mark.browser


def test_every_tap_on_the_log_can_be_undone(club: Any, open_page: Callable[..., Any]) -> None:
    page = open_page(club.as_team_a, "/team/log/")
    page.get_by_role("button", name="Start", exact=True).click()
    page.get_by_role("button", name="Stop").click()
    page.get_by_role("button", name="Undo: let it run on").click()
    assert page.get_by_role("button", name="Stop").is_visible()
    page.get_by_role("button", name="Stop").click()
    page.get_by_role("button", name="◀ left").click()
    page.get_by_role("button", name="◀ left").click()
    page.get_by_role("button", name="Undo", exact=True).click()
    assert page.input_value("#sideways") == "1"
    page.get_by_role("button", name="Undo", exact=True).click()
    assert page.input_value("#sideways") == ""
    log(page, clean=True)
    page.get_by_role("heading", name="Run 1 is saved").wait_for()
    page.get_by_role("button", name="Take this run back").click()
    page.get_by_role("heading", name="Run 1 is taken back").wait_for()
    kept(page).get_by_text("Saved").wait_for()
    until_on(page, lambda: not Attempt.objects.standing().exists(), "the run to be taken back")
    first = Attempt.objects.get()
    page.get_by_role("button", name="Undo: it counts again").click()
    page.get_by_role("heading", name="Run 1 is saved").wait_for()
    again = Attempt.objects.standing().get()
    assert (again.made_at, again.duration_s, again.outcomes) == (first.made_at, first.duration_s, first.outcomes)
    page.get_by_role("button", name="Log the next run").click()
    assert page.inner_text("#run-number") == "2"


def test_an_answer_is_taken_back_by_tapping_it_again(club: Any, open_page: Callable[..., Any]) -> None:
    page = open_page(club.as_team_a, "/team/log/", touch=True)
    yes, no = page.locator(".pick.yes").first, page.locator(".pick.no").first
    chosen = page.locator(".ask input:checked")
    yes.tap()
    expect(chosen).to_have_count(1)
    yes.tap()
    expect(chosen).to_have_count(0)
    yes.tap()
    expect(yes.locator("input")).to_be_checked()
    no.tap()
    expect(
        no.locator("input")
    ).to_be_checked()  # a tap's click comes a moment after it, and with it the keyboard's place
    page.keyboard.press("Space")
    expect(chosen).to_have_count(0)


def test_a_run_that_was_changed_without_network_is_taken_back_and_brought_back_whole(
    club: Any, open_page: Callable[..., Any]
) -> None:
    page = open_page(club.as_team_a, "/team/log/")
    log(page, seconds="38.2")
    page.get_by_role("heading", name="Run 1 is saved").wait_for()
    page.context.set_offline(True)
    page.get_by_role("button", name="Put this run right").click()
    page.fill("#duration", "41")
    page.get_by_role("button", name="Save the change").click()
    page.get_by_role("button", name="Take this run back").click()
    page.get_by_role("heading", name="Run 1 is taken back").wait_for()
    page.context.set_offline(False)
    until_on(page, lambda: not Attempt.objects.standing().exists(), "the run to be taken back")
    page.get_by_role("button", name="Undo: it counts again").click()
    page.get_by_role("heading", name="Run 1 is saved").wait_for()
    assert [run.duration_s for run in Attempt.objects.standing()] == [41.0]
