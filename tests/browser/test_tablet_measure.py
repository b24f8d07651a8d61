"""What a team has measured stays on its tablet until the club's computer has it."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import pytest

from classroom.models import Calibration
from planning.models import TableSurvey
from tests import factories as make

pytestmark = pytest.mark.browser
TAPE = ["190", "45", "196", "75", "94", "50", "124", "75"]
STRAIGHT = ["102.9", "103.1", "103", "102.8", "103.2", "103", "103.1"]


@pytest.fixture
def club(site: Any) -> Any:
    """Team A with an open tier and a robot."""
    make.ProgressFactory(team=site.team_a, tier=make.mission_with_tiers(site.club)[1][1].tier)
    return site


def press_without_network(page: Any, button: str) -> None:
    page.context.set_offline(True)
    with page.expect_event("requestfailed", lambda request: request.is_navigation_request()):
        page.get_by_role("button", name=button).click()
    page.context.set_offline(False)


def test_straight_runs_that_were_kept_while_the_network_was_away_are_still_there(
    club: Any, open_page: Callable[..., Any]
) -> None:
    page = open_page(club.as_team_a, "/team/robot/straight/")
    address = page.url
    page.get_by_role("button", name="More rows").click()
    page.locator('[name="run-6-measured"]').wait_for()
    page.fill("#surface", "the mission table")
    for row, measured in enumerate(STRAIGHT):
        page.fill(f'[name="run-{row}-commanded"]', "100")
        page.fill(f'[name="run-{row}-measured"]', measured)
    page.keyboard.press("Tab")
    page.get_by_text("Told 100 cm it goes 103 cm").wait_for()
    press_without_network(page, "Keep these numbers")
    page.goto(address)
    page.get_by_text("Told 100 cm it goes 103 cm").wait_for()
    assert [page.input_value(f'[name="run-{row}-measured"]') for row in range(7)] == STRAIGHT
    page.get_by_role("button", name="Keep these numbers").click()
    page.get_by_role("heading", name="Kit 1").wait_for()
    assert len(Calibration.objects.get(kind="straight").runs) == 7
    page.goto(address)
    assert page.input_value('[name="run-0-measured"]') == ""
    assert page.evaluate("Object.keys(localStorage).filter((key) => key.includes('measure'))") == []


def test_a_survey_that_was_kept_while_the_network_was_away_is_still_there(
    club: Any, open_page: Callable[..., Any]
) -> None:
    page = open_page(club.as_team_a, "/team/survey/")
    address = page.url
    for row, text in enumerate(TAPE):
        page.fill(f'[name="distance-{row}"]', text)
    press_without_network(page, "Keep these places")
    page.goto(address)
    assert [page.input_value(f'[name="distance-{row}"]') for row in range(8)] == TAPE
    page.get_by_role("button", name="Keep these places").click()
    page.get_by_text("Drawn where you measured things, today.").wait_for()
    assert len(TableSurvey.objects.get().readings) == 8
    page.goto(address)
    assert page.evaluate("Object.keys(localStorage).filter((key) => key.includes('measure'))") == []


def test_the_run_and_the_reading_that_stand_out_are_marked_while_the_team_measures(
    club: Any, open_page: Callable[..., Any]
) -> None:
    page = open_page(club.as_team_a, "/team/robot/straight/")
    for row, measured in enumerate([*STRAIGHT[:5], "109"]):
        page.fill(f'[name="run-{row}-commanded"]', "100")
        page.fill(f'[name="run-{row}-measured"]', measured)
    page.keyboard.press("Tab")
    page.get_by_text("Run 6 stands out").wait_for()
    marked = page.locator(".sheet .stands-out b")
    assert marked.all_inner_texts() == ["6"]
    page.fill('[name="run-5-measured"]', "103")
    page.keyboard.press("Tab")
    page.get_by_text("Run 6 stands out").wait_for(state="detached")
    assert marked.count() == 0
    page.fill('[name="run-2-measured"]', "long")
    page.keyboard.press("Tab")
    page.get_by_text("Run 3, measured:").wait_for()

    page.goto("/team/survey/")
    for row, text in enumerate(TAPE):
        page.fill(f'[name="distance-{row}"]', text)
    page.select_option('[name="mark-8"]', page.locator('[name="mark-0"]').input_value())
    page.select_option('[name="to-8"]', "right")
    page.fill('[name="distance-8"]', "40")
    page.keyboard.press("Tab")
    page.get_by_text("do not fit together").wait_for()
    assert page.locator("#says .lead").inner_text().startswith("Readings 1 and 9 do not fit together.")
    assert marked.all_inner_texts() == ["1", "9"]
    page.get_by_role("button", name="Keep these places").click()
    page.get_by_role("alert").get_by_role("button", name="Keep them all the same").click()
    page.get_by_text("Kept. From now on your course is drawn where you measured things.").wait_for()


def test_a_wrong_sign_among_six_spins_shows_at_once(club: Any, open_page: Callable[..., Any]) -> None:
    page = open_page(club.as_team_a, "/team/robot/spin/")
    page.fill('[name="run-0-commanded"]', "-1080")
    page.fill('[name="run-0-measured"]', "1071")
    page.keyboard.press("Tab")
    page.get_by_text("Told -1080 and came 1071: one of them has the wrong sign.").wait_for()
    page.fill('[name="run-0-measured"]', "-1071")
    page.keyboard.press("Tab")
    page.get_by_text("one of them has the wrong sign").wait_for(state="detached")


def test_the_tablet_is_asked_to_hold_on_to_what_it_keeps(club: Any, open_page: Callable[..., Any]) -> None:
    page = open_page(club.as_team_a, "/team/mission/")
    page.add_init_script(
        "navigator.storage.persist = () => { window.asked = true; return Promise.reject(new Error('no')); }"
    )
    page.reload()
    page.wait_for_function("window.asked === true")
    page.locator("#kept").get_by_text("Saved").wait_for()


def test_measuring_without_network_says_so_and_goes_on_when_it_is_back(
    club: Any, open_page: Callable[..., Any]
) -> None:
    page = open_page(club.as_team_a, "/team/robot/straight/")
    page.context.set_offline(True)
    for row, measured in enumerate(STRAIGHT[:5]):
        page.fill(f'[name="run-{row}-commanded"]', "100")
        page.fill(f'[name="run-{row}-measured"]', measured)
    page.keyboard.press("Tab")
    page.get_by_text("No network: what you typed is kept on this tablet.").wait_for()
    page.context.set_offline(False)
    page.get_by_text("Told 100 cm it goes 103 cm").wait_for()
    assert not page.get_by_text("No network").is_visible()


def test_the_guide_comes_before_the_sheet_and_a_minus_can_be_typed(club: Any, open_page: Callable[..., Any]) -> None:
    page = open_page(club.as_team_a, "/team/robot/spin/", width=820, height=1180)
    guide = page.get_by_role("heading", name="How to measure").bounding_box()
    assert guide["y"] < page.locator("#measure").bounding_box()["y"]
    for word in ("Mark:", "Measure:", "How often:"):
        assert page.locator(".steps").get_by_text(word).is_visible()
    assert page.get_attribute('[name="run-0-commanded"]', "inputmode") == "text", "a keypad for decimals has no minus"
