"""Several targets by hand: a coach adds one in the editor and moves it, a team says at which one it measured."""

from __future__ import annotations

from typing import Any

import pytest
from playwright.sync_api import expect

from missions.editor.rules.first_document import first_document
from missions.ladder.services.edit_mission import newest_version, start_mission
from missions.models import Attempt
from tests import factories as make
from tests.browser.test_editor import drag, number, saved

pytestmark = pytest.mark.browser


@pytest.fixture
def mission(site: Any) -> Any:
    return start_mission(site.club, site.coach, first_document("Fog bell", 2400, 1200), now=make.NOW)


@pytest.fixture
def editor(site: Any, mission: Any, open_page: Any) -> Any:
    page = open_page(site.as_coach, f"/missions/{mission.pk}/edit/", height=1000)
    page.wait_for_selector("#map[role=application]")
    return page


def drag_target(page: Any) -> None:
    """By a place of it that its corners and its push arrow leave free; 200 mm to the left, 300 mm away."""
    page.locator("#map").scroll_into_view_if_needed()
    drag(page, (1218, 605), (1018, 905))


def add_target(page: Any) -> str:
    """On the first tier; its key is returned. Its name has the focus."""
    page.locator('button[value="add-shape target t1"]').press("Enter")
    added = page.locator('details[data-layer="target"]')
    expect(added).to_have_attribute("open", "")
    return str(added.get_attribute("data-shape"))


def test_a_target_is_added_named_dragged_and_saved(editor: Any, mission: Any, axe_clean: Any) -> None:
    key = add_target(editor)
    expect(editor.locator(f"#{key}-name")).to_be_focused()
    editor.keyboard.type("crate")
    before = number(editor, f"{key}-contact_x")
    drag_target(editor)
    assert number(editor, f"{key}-contact_x") == before - 20, "the contact goes along"
    expect(editor.locator("#drawn .ed-pushed")).to_have_count(2)
    editor.locator("#t1-order").select_option("any")
    editor.locator('select[name="t1-about"]').nth(1).select_option("2")
    saved(editor)
    tier = newest_version(mission).tier_versions.get(order=1)
    (crate,) = tier.more_targets
    assert (crate["name"], tier.any_order, tier.criteria[1]["target"]) == ("crate", True, 2)
    assert crate["contact"]["x_mm"] == crate["body"][0][0]
    axe_clean(editor)


def test_a_target_is_taken_out_again(editor: Any, mission: Any) -> None:
    add_target(editor)
    editor.get_by_role("button", name="Take out this target").press("Enter")
    expect(editor.locator('details[data-layer="target"]')).to_have_count(0)
    expect(editor.locator("#t1-order")).to_have_count(0)
    editor.get_by_role("button", name="Undo").press("Enter")
    expect(editor.locator('details[data-layer="target"]')).to_have_count(1)


def test_undo_brings_a_target_back_where_it_was(editor: Any) -> None:
    key = add_target(editor)
    drag_target(editor)
    moved = number(editor, f"{key}-x-0"), number(editor, f"{key}-contact_y")
    editor.get_by_role("button", name="Undo").click()
    assert (number(editor, f"{key}-x-0"), number(editor, f"{key}-contact_y")) != moved
    editor.get_by_role("button", name="Redo").click()
    assert (number(editor, f"{key}-x-0"), number(editor, f"{key}-contact_y")) == moved


def test_a_team_says_at_which_target_it_measured(site: Any, open_page: Any, axe_clean: Any) -> None:
    edition = make.mission_with_tiers(site.club)[1][0]
    edition.more_targets = [make.CRATE | {"window": make.CRATE["window"] | {"lateral_mm": 25}}]
    edition.criteria = [*edition.criteria, {"key": "crate", "words": "The crate is on its mark", "target": 2}]
    edition.save()
    make.ProgressFactory(team=site.team_a, tier=edition.tier)
    page = open_page(site.as_team_a, "/team/log/", width=820, height=1180, touch=True)
    expect(page.get_by_role("group", name="crate The crate is on its mark")).to_be_visible()
    for label in page.locator(".pick.yes").all():
        label.tap()
    page.locator('label.pick:has(input[name="at_target"][value="1"])').tap()
    assert page.locator("#pad .pad-window").get_attribute("width") == "50"
    expect(page.locator("[data-pad-window]")).to_have_text("counts: 2.5 cm to each side")
    box = page.locator("#pad").bounding_box()
    page.touchscreen.tap(box["x"] + box["width"] * 0.35, box["y"] + box["height"] * 0.6)
    axe_clean(page)
    page.get_by_role("button", name="Save this run").tap()
    page.get_by_role("heading", name="Run 1 is saved").wait_for()
    run = Attempt.objects.get()
    assert run.at_target == 1 and run.lateral_mm > 0 and run.success
    page.locator("#what-it-says").get_by_text("It met the crate").wait_for()
