"""The ladder in the mission's editor: tiers come, go and are undone; what keys do; what the drawing stops."""

from __future__ import annotations

import re
from collections.abc import Callable
from typing import Any

import pytest
from django.utils import timezone
from playwright.sync_api import expect

from missions.editor.rules.first_document import first_document
from missions.ladder.services.archive_mission import KEPT_FOR
from missions.ladder.services.edit_mission import newest_version, start_mission
from missions.models import Mission
from planning.models import Job
from tests import factories as make
from tests.browser.test_editor import number, saved

pytestmark = pytest.mark.browser
NOW = make.NOW


@pytest.fixture
def mission(site: Any) -> Any:
    return start_mission(site.club, site.coach, first_document("Fog bell", 2400, 1200), now=NOW)


@pytest.fixture
def editor(site: Any, mission: Any, open_page: Any) -> Any:
    page = open_page(site.as_coach, f"/missions/{mission.pk}/edit/", height=1000)
    page.wait_for_selector("#map[role=application]")
    page.evaluate("window.stillHere = true")
    return page


def tiers(page: Any) -> list[str]:
    return [box.input_value() for box in page.locator('section.tier input[id$="-name"][id^="t"]').all()]


def focused(page: Any) -> str:
    return str(page.evaluate("document.activeElement.id"))


def test_a_tier_taken_out_is_undone_to_its_old_place_with_all_it_held(editor: Any, mission: Any) -> None:
    editor.get_by_role("button", name="2 · With obstacle").click()
    editor.locator('[id="t2-name"]').fill("Round the bank")
    editor.locator('[id="t2-name"]').press("Tab")
    before = tiers(editor)
    assert before[1] == "Round the bank"
    editor.get_by_role("button", name="Take tier 2 out of this draft").focus()
    editor.keyboard.press("Enter")
    expect(editor.locator("#map-says")).to_contain_text("Undo brings it back.")
    assert tiers(editor) == [before[0], before[2]]
    assert focused(editor) == "t3-title"
    editor.keyboard.press("Control+z")
    expect(editor.locator("#map-says")).to_have_text("Undone.")
    assert tiers(editor) == before
    assert editor.locator('[data-list="t2"] .shape-name').all_inner_texts() == ["gravel bank"]
    editor.get_by_role("button", name="Redo").click()
    expect(editor.locator("#map-says")).to_have_text("Done again.")
    assert tiers(editor) == [before[0], before[2]]
    editor.get_by_role("button", name="Undo").click()
    expect(editor.locator("#map-says")).to_have_text("Undone.")
    saved(editor)
    assert [row.name for row in newest_version(mission).tier_versions.order_by("order")] == before
    assert editor.evaluate("window.stillHere"), "the page was loaded anew"


def test_a_tier_is_added_and_moved_with_the_focus_and_the_undo_kept(editor: Any) -> None:
    editor.locator("#map").focus()
    editor.keyboard.press("ArrowRight")
    editor.get_by_role("button", name="Timed", exact=True).focus()
    editor.keyboard.press("Enter")
    editor.locator("#t4-name:focus").wait_for()
    editor.get_by_role("button", name="Move tier 4 earlier").focus()
    editor.keyboard.press("Enter")
    expect(editor.locator("#map-says")).to_contain_text("is now tier 3")
    assert editor.evaluate("document.activeElement.value") == "move-tier t4 up"
    for _ in range(3):
        editor.get_by_role("button", name="Undo").click()
        expect(editor.locator("#map-says")).to_have_text("Undone.")
        editor.locator("#map-says").evaluate("el => { el.textContent = ''; }")
    assert editor.locator("section.tier").count() == 3
    assert number(editor, "base-x-0") == 0
    expect(editor.get_by_role("button", name="Undo")).to_be_disabled()


@pytest.mark.parametrize("width", [1280, 360])
def test_only_the_tier_that_the_map_shows_is_open(
    site: Any, mission: Any, open_page: Any, axe_clean: Any, width: int
) -> None:
    page = open_page(site.as_coach, f"/missions/{mission.pk}/edit/", width=width)
    page.wait_for_selector("#map[role=application]")
    names = [page.locator(f'[id="t{number}-name"]') for number in (1, 2, 3)]
    shown = [name.is_visible() for name in names]
    assert sum(shown) == 1
    page.get_by_role("button", name="3 · Timed").press("Enter")
    assert [name.is_visible() for name in names] == [False, False, True]
    assert page.get_by_role("radio", name="3 · Timed").is_checked(), "the map goes with it"
    page.get_by_role("radio", name="2 · With obstacle").check()
    assert [name.is_visible() for name in names] == [False, True, False]
    head, tools = page.locator(".savebar").bounding_box(), page.locator("[data-tools]").first.bounding_box()
    assert head["y"] + head["height"] <= tools["y"], "saving is in the head and lies over no tool"
    axe_clean(page)


def test_ctrl_s_saves_and_keys_put_obstacles(editor: Any, mission: Any) -> None:
    editor.get_by_role("radio", name="1 · Plain route").check()
    editor.locator("#map").focus()
    editor.keyboard.press("o")
    expect(editor.locator("#map-says")).to_contain_text("obstacle, 4 corners")
    editor.keyboard.press("k")
    expect(editor.locator("#map-says")).to_contain_text("keep out, 4 corners")
    assert focused(editor) == "map"
    editor.locator("#summary").fill("Ring it")
    with editor.expect_response("**/edit/"):
        editor.keyboard.press("Control+s")
    expect(editor.locator("#saved-words")).to_contain_text("Saved")
    draft = newest_version(mission)
    plain = draft.tier_versions.get(order=1)
    assert (draft.summary, len(plain.obstacles), len(plain.keep_outs)) == ("Ring it", 1, 1)


def test_a_moved_base_takes_its_start_along(editor: Any) -> None:
    before = number(editor, "start_x"), number(editor, "start_y")
    editor.locator("#pick").select_option("base")
    editor.get_by_role("button", name="Right", exact=True).click()
    editor.get_by_role("button", name="Away", exact=True).click()
    assert (number(editor, "start_x"), number(editor, "start_y")) == (before[0] + 1, before[1] + 1)
    editor.locator("#pick-corner").select_option("0")
    editor.get_by_role("button", name="Right", exact=True).click()
    assert number(editor, "start_x") == before[0] + 1, "a corner alone takes nothing along"


def test_a_faulty_drawing_is_said_once_and_no_planner_is_asked(editor: Any) -> None:
    name = editor.locator('[id="t3-name"]')
    editor.get_by_role("button", name="3 · Timed").click()
    name.fill(editor.locator('[id="t2-name"]').input_value())
    name.press("Tab")
    fault = editor.get_by_text("Two tiers are called")
    fault.wait_for()
    expect(name).to_have_attribute("aria-invalid", "true")
    editor.get_by_role("button", name="Ask the planner").click()
    editor.get_by_text("The planner is not asked").wait_for()
    assert fault.count() == 1
    assert not Job.objects.exists()


def test_a_mission_is_taken_away_brought_back_and_deleted_by_a_second_named_step(
    site: Any, editor: Any, mission: Any, axe_clean: Callable[[Any], None]
) -> None:
    editor.on("dialog", lambda dialog: dialog.accept())
    editor.locator(".editor-head .menu > summary").click()
    editor.get_by_role("button", name="Put away").click()
    editor.get_by_text("Nothing of it is lost").first.wait_for()
    assert Mission.objects.get(pk=mission.pk).archived_at is not None
    editor.get_by_text("Put away (1)").click()
    editor.get_by_role("button", name=re.compile("Bring back.*Fog bell")).click()
    editor.get_by_text("“Fog bell” is back.").wait_for()
    Mission.objects.update(archived_at=timezone.now() - KEPT_FOR)
    editor.reload()
    editor.get_by_text("Put away (1)").click()
    editor.get_by_role("link", name=re.compile("Delete for good")).click()
    axe_clean(editor)
    editor.get_by_label("Its title").fill("Fog")
    editor.get_by_role("button", name="for good").click()
    editor.get_by_text("Type its title, “Fog bell”, to delete it.").wait_for()
    assert Mission.objects.filter(pk=mission.pk).exists()
    editor.get_by_label("Its title").fill("fog bell")
    editor.get_by_role("button", name="for good").click()
    editor.get_by_text("“Fog bell” is deleted for good.").wait_for()
    assert not Mission.objects.filter(pk=mission.pk).exists()
