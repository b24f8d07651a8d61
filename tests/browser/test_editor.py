"""The mission editor in a real browser: by hand, by keys, by numbers, without a script, and two coaches at once."""

from __future__ import annotations

import re
from typing import Any

import pytest
from playwright.sync_api import expect

from missions.editor.rules.first_document import first_document
from missions.ladder.mission_file import document_of
from missions.ladder.rules.typical_robot import typical_nose
from missions.ladder.services.edit_mission import newest_version, save_draft, seen_mark, start_mission
from planning.models import Job, JobState
from tests import factories as make
from tests.planning.feasibility.test_feasibility import FOUND, STUCK
from tests.planning.feasibility.test_obstacle_places import PLACES

NOW = make.NOW


@pytest.fixture
def mission(site: Any) -> Any:
    return start_mission(site.club, site.coach, first_document("Fog bell", 2400, 1200), now=NOW)


@pytest.fixture
def editor(site: Any, mission: Any, open_page: Any) -> Any:
    page = open_page(site.as_coach, f"/missions/{mission.pk}/edit/", height=1000)
    page.wait_for_selector("#map[role=application]")
    return page


def number(page: Any, box: str) -> float:
    return float(page.locator(f'[id="{box}"]').input_value())


def on_screen(page: Any, x_mm: float, y_mm: float) -> tuple[float, float]:
    """Where a place on the table is on the screen."""
    return tuple(
        page.evaluate(
            """([x, y]) => { const svg = document.getElementById("chart"), m = svg.getScreenCTM();
            const depth = Number(svg.querySelector(".ed-edge").getAttribute("height"));
            const p = new DOMPoint(x, depth - y).matrixTransform(m); return [p.x, p.y]; }""",
            [x_mm, y_mm],
        )
    )


def drag(page: Any, start: tuple[float, float], end: tuple[float, float]) -> None:
    """From a place on the table to another, in mm."""
    page.mouse.move(*on_screen(page, *start))
    page.mouse.down()
    page.mouse.move(*on_screen(page, (start[0] + end[0]) / 2, (start[1] + end[1]) / 2))
    page.mouse.move(*on_screen(page, *end))
    page.mouse.up()


def saved(page: Any) -> None:
    with page.expect_response("**/edit/"):
        page.locator(".savebar button").click()
    expect(page.locator("#saved-words")).to_contain_text("Saved")


def test_a_corner_is_dragged_and_its_numbers_follow(editor: Any, mission: Any) -> None:
    drag(editor, (520, 830), (604, 878))
    assert (number(editor, "base-x-2"), number(editor, "base-y-2")) == (60, 88)  # snapped to whole centimetres
    expect(editor.locator("#saved-words")).to_contain_text("Not saved yet")
    expect(editor.locator("#map-says")).to_contain_text("base, corner 3 of 4: 60 cm along, 88 cm away")
    saved(editor)
    assert newest_version(mission).base[2] == [600, 880]


def test_a_shape_dragged_near_the_edge_snaps_to_it(editor: Any) -> None:
    editor.get_by_role("radio", name="2 · With obstacle").check()
    drag(editor, (1130, 770), (1130, 164))  # its near edge would be 1.4 cm from the table's
    assert number(editor, "s1-y-0") == 0
    assert number(editor, "s1-x-0") == 101
    assert number(editor, "s1-y-2") - number(editor, "s1-y-0") == 30


def test_the_contact_slides_along_the_target_and_pushes_straight_into_it(editor: Any) -> None:
    x, y = number(editor, "contact_x") * 10, number(editor, "contact_y") * 10
    drag(editor, (x - 45, y), (x - 45, y + 80))
    assert number(editor, "contact_x") * 10 == x
    assert number(editor, "contact_y") * 10 == pytest.approx(y + 80, abs=10)
    assert number(editor, "contact_heading") == 0


def test_the_contact_goes_with_the_target(editor: Any) -> None:
    y = number(editor, "contact_y")
    editor.locator("#pick").select_option("body")
    editor.get_by_role("button", name="Away", exact=True).click()
    assert number(editor, "contact_y") == y + 1


def test_keys_choose_move_turn_and_say_what_they_did(editor: Any) -> None:
    editor.get_by_role("radio", name="2 · With obstacle").check()
    editor.locator("#map").focus()
    editor.keyboard.press("n")
    expect(editor.locator("#map-says")).to_contain_text("Start")
    editor.keyboard.press("ArrowRight")
    assert number(editor, "start_x") == 14
    editor.keyboard.press("Shift+ArrowRight")
    assert number(editor, "start_x") == 24
    editor.keyboard.press(",")
    assert number(editor, "start_heading") == 5
    editor.keyboard.press("Shift+>")
    assert number(editor, "start_heading") == 4
    for _ in range(3):
        editor.keyboard.press("n")
    expect(editor.locator("#map-says")).to_contain_text("gravel bank, 4 corners")
    editor.keyboard.press(".")
    expect(editor.locator("#map-says")).to_contain_text("turned 5° right")
    editor.keyboard.press("c")
    expect(editor.locator("#map-says")).to_contain_text("gravel bank, corner 1 of 4")
    editor.keyboard.press("a")
    assert editor.locator('[name="s1-x"]').count() == 5
    editor.keyboard.press("Delete")
    assert editor.locator('[name="s1-x"]').count() == 4
    editor.keyboard.press("Escape")
    editor.keyboard.press("Delete")
    assert editor.locator('[name="s1-x"]').count() == 0
    editor.keyboard.press("Control+z")
    assert editor.locator('[name="s1-x"]').count() == 4
    assert editor.evaluate("document.activeElement.id") == "map"


def test_numbers_move_the_drawing_in_any_unit(editor: Any, axe_clean: Any) -> None:
    editor.locator('[data-shape="base"] > summary').click()
    box = editor.locator('[id="base-x-1"]')
    box.fill("26 in")
    box.press("Tab")
    points = editor.locator(".ed-shape.base polygon").get_attribute("points")
    assert "660.4,820.0" in points
    box.fill("a bit more")
    box.press("Tab")
    expect(editor.locator("#problems")).to_contain_text("is not a length")
    expect(box).to_have_attribute("aria-invalid", "true")
    below = editor.locator('[id="base-x-1-wrong"]')
    expect(below).to_contain_text("is not a length")
    axe_clean(editor)
    assert below.bounding_box()["width"] > 3 * box.bounding_box()["width"] / 2, (
        "words have more room than a box of numbers"
    )
    box.fill("52")
    box.press("Tab")
    expect(editor.locator("#problems")).to_contain_text("Nothing wrong with the drawing")
    expect(below).to_have_count(0)
    expect(box).not_to_have_attribute("aria-invalid", "true")


def test_a_refused_save_leads_to_the_box_that_is_wrong(editor: Any, mission: Any, axe_clean: Any) -> None:
    editor.locator("#push").evaluate("el => { el.value = 'a nudge'; }")
    save = editor.locator(".savebar button")
    stood = save.bounding_box()["x"]
    save.click()
    expect(editor.locator("#saved-words")).to_contain_text("Not saved: 1 box to put right")
    assert save.bounding_box()["x"] == stood, "the button stays where it was pressed"
    push = editor.locator("#push")
    expect(push).to_be_focused()
    assert newest_version(mission).target["push_mm"] == 60
    told = editor.locator("#problems .stops a").inner_text()
    expect(push).to_have_accessible_description(re.compile(re.escape(told)))
    expect(editor.locator("#push-wrong")).to_be_visible()
    axe_clean(editor)
    push.fill("6")
    push.press("Tab")
    expect(editor.locator("#push-wrong")).to_have_count(0)
    expect(push).not_to_have_accessible_description(re.compile(re.escape(told)))


def test_words_about_a_corner_are_gone_once_corners_have_other_numbers(editor: Any) -> None:
    editor.locator('[data-shape="base"] > summary').click()
    first = editor.locator('[id="base-x-0"]')
    first.fill("a bit more")
    first.press("Tab")
    expect(editor.locator('[id="base-x-0-wrong"]')).to_be_visible()
    editor.route("**/missions/**", lambda route: route.abort())  # no check comes that would say it anew
    first.fill("0")
    editor.locator('button[value="add-corner base 0"]').click()
    expect(editor.locator('[name="base-x"]')).to_have_count(5)
    assert editor.locator("#editor .wrong:visible, #editor [aria-describedby$='-wrong']").count() == 0


def test_only_looking_about_changes_nothing(editor: Any) -> None:
    editor.locator("#pick").select_option("body")
    editor.locator("#snap").select_option("50")
    editor.get_by_role("radio", name="3 · Timed").check()
    expect(editor.locator("#saved-words")).to_contain_text("As saved")


def test_everything_is_undone_and_done_again(editor: Any) -> None:
    drag(editor, (520, 450), (604, 498))
    editor.get_by_role("button", name="Add obstacle", exact=True).click()
    editor.locator('[data-group="table"] > summary').click()
    editor.locator("#width").fill("250")
    editor.locator("#width").press("Tab")
    undo, redo = (editor.get_by_role("button", name=name, exact=True) for name in ("Undo", "Redo"))
    undo.click()
    assert number(editor, "width") == 240
    undo.click()
    expect(editor.locator('[data-list="t1"] details')).to_have_count(0)
    undo.click()
    assert number(editor, "base-x-2") == 52
    expect(undo).to_be_disabled()
    for _ in range(3):
        redo.click()
    assert (number(editor, "width"), number(editor, "base-x-2")) == (250, 60)
    expect(editor.locator('[data-list="t1"] details')).to_have_count(1)
    expect(redo).to_be_disabled()


def test_a_crossing_outline_is_found_while_drawing_and_marked(editor: Any) -> None:
    drag(editor, (520, 450), (10, -60))
    expect(editor.locator("#problems")).to_contain_text("Must change")
    expect(editor.locator('[data-shape="base"]')).to_have_class("shape chosen wrong")
    expect(editor.locator(".ed-shape.base")).to_have_class("ed-shape base chosen wrong")


def test_a_second_save_keeps_the_tiers_that_the_first_one_made(editor: Any, mission: Any) -> None:
    editor.get_by_role("button", name="Timed", exact=True).click()
    editor.wait_for_selector('section[data-tier="t4"]')
    saved(editor)
    before = list(mission.tiers.values_list("pk", flat=True))
    editor.locator("#summary").fill("Ring it")
    saved(editor)
    assert list(mission.tiers.values_list("pk", flat=True)) == before
    assert len(before) == 4
    assert newest_version(mission).summary == "Ring it"


def test_the_second_coach_is_told_compares_and_chooses(site: Any, mission: Any, editor: Any) -> None:
    version = newest_version(mission)
    theirs = document_of(version, typical_nose(site.club)) | {"summary": "Theirs"}
    ids = list(mission.tiers.values_list("pk", flat=True))
    save_draft(mission, theirs, ids, coach=site.assistant, seen=seen_mark(version), now=NOW.replace(minute=30))
    editor.locator("#summary").fill("Mine")
    editor.locator(".savebar button").click()
    conflict = editor.locator("#conflict")
    expect(conflict).to_contain_text("Somebody else was quicker")
    expect(conflict).to_be_focused()
    expect(conflict.get_by_role("row", name="In one line")).to_contain_text("Mine")
    expect(conflict.get_by_role("row", name="In one line")).to_contain_text("Theirs")
    assert editor.locator("#summary").input_value() == "Mine"
    assert newest_version(mission).summary == "Theirs"
    conflict.get_by_role("button", name="Save mine over theirs").click()
    expect(editor.locator("#saved-words")).to_contain_text("Saved")
    assert newest_version(mission).summary == "Mine"
    expect(conflict).to_have_count(0)


def test_without_a_script_the_form_does_it_all(site: Any, mission: Any, open_page: Any) -> None:
    page = open_page(site.as_coach, f"/missions/{mission.pk}/edit/", java_script_enabled=False)
    expect(page.locator("#chart .ed-shape")).to_have_count(2)
    page.locator('[data-shape="base"] > summary').click()
    page.get_by_role("button", name="Add a corner after 2", exact=True).first.click()
    page.locator('[data-shape="base"] > summary').click()
    page.locator('[id="base-x-2"]').fill("60 cm")
    page.get_by_role("button", name="Draw the map from the numbers").click()
    assert "600.0," in page.locator(".ed-shape.base polygon").get_attribute("points")
    page.locator(".savebar button").click()
    expect(page.locator("#messages")).to_contain_text("The draft is saved.")
    assert newest_version(mission).base[2] == [600, 605]


def answer_all(result: dict[str, Any]) -> None:
    Job.objects.filter(state=JobState.WAITING).update(state=JobState.DONE, result=result)


def test_the_planner_is_asked_and_answers_without_a_reload(site: Any, mission: Any, editor: Any) -> None:
    editor.get_by_role("button", name="Ask the planner").click()
    answers = editor.locator("#can-do-answers")
    expect(answers.get_by_text("Waiting for its turn")).to_have_count(3)
    answer_all(FOUND)
    expect(answers.get_by_text("✓ Can be done")).to_have_count(3)
    expect(editor.locator("#can-do-said")).to_contain_text("Timed with Kit 1: can be done.")
    editor.get_by_role("button", name="Use 55 s").click()
    assert number(editor, "t3-time_limit") == 55
    editor.get_by_role("radio", name="2 · With obstacle").check()
    drag(editor, (1130, 770), (1130, 920))
    expect(answers.get_by_text("Waiting for its turn")).to_have_count(1)
    expect(answers.get_by_text("✓ Can be done")).to_have_count(2)


def test_a_proposed_obstacle_is_put_onto_the_tier_and_undone(mission: Any, editor: Any) -> None:
    editor.get_by_role("radio", name="2 · With obstacle").check()
    editor.get_by_role("button", name="Propose places").click()
    expect(editor.locator("#places")).to_contain_text("Waiting for its turn")
    answer_all(PLACES)
    editor.get_by_role("button", name="Put it on the tier").first.click()
    shapes = editor.locator('[data-list="t2"] details')
    expect(shapes).to_have_count(2)
    assert (number(editor, "s3-x-1"), number(editor, "s3-y-1")) == (122, 30)
    editor.get_by_role("button", name="Undo", exact=True).click()
    expect(shapes).to_have_count(1)


def test_a_mission_is_published_once_it_can_be_done(site: Any, mission: Any, open_page: Any, axe_clean: Any) -> None:
    page = open_page(site.as_coach, f"/missions/{mission.pk}/publish/")
    page.get_by_role("button", name="Check all tiers").click()
    answer_all(STUCK)
    expect(page.get_by_text("✕ Cannot be done")).to_have_count(3)
    expect(page.get_by_role("button", name="Publish version 1")).to_have_count(0)
    axe_clean(page)
    Job.objects.update(result=FOUND)
    page.reload()
    page.get_by_role("button", name="Publish version 1").click()
    page.wait_for_url("**/missions/")
    assert newest_version(mission).published_at is not None


@pytest.mark.parametrize("dark", [False, True], ids=["light", "dark"])
@pytest.mark.parametrize("width", [320, 820, 1280])
def test_the_editor_is_clean_for_axe(site: Any, mission: Any, open_page: Any, axe_clean: Any, width: int, dark: bool) -> None:  # fmt: skip
    page = open_page(site.as_coach, f"/missions/{mission.pk}/edit/", width=width, dark=dark)
    page.wait_for_selector("#can-do-form")
    for summary in page.locator("details.shape > summary, details.rule > summary").all():
        summary.evaluate("el => { el.parentElement.open = true; }")
    axe_clean(page)
    assert page.evaluate("document.documentElement.scrollWidth") <= width


@pytest.mark.parametrize("path", ["/missions/new/", "/missions/import/"])
def test_the_pages_around_it_are_clean_for_axe(site: Any, open_page: Any, axe_clean: Any, path: str) -> None:
    axe_clean(open_page(site.as_coach, path, width=360))


def test_what_a_finger_must_hit_is_44_pixels_wide(site: Any, mission: Any, open_page: Any) -> None:
    page = open_page(site.as_coach, f"/missions/{mission.pk}/edit/", width=360, touch=True)
    page.wait_for_selector(".ed-grips")
    for hit in page.locator("circle.ed-hit").all():
        assert hit.bounding_box()["width"] >= 43.9
    for button in page.locator("[data-act]").all():
        assert button.bounding_box()["height"] >= 44


def test_a_finger_scrolls_over_the_map_and_drags_only_what_it_has_chosen(
    site: Any, mission: Any, open_page: Any
) -> None:
    page = open_page(site.as_coach, f"/missions/{mission.pk}/edit/", width=820, height=1100, touch=True)
    page.wait_for_selector(".ed-grips")
    touch = page.context.new_cdp_session(page)

    def swipe(start: tuple[float, float], end: tuple[float, float]) -> None:
        points = [on_screen(page, start[0] + (end[0] - start[0]) * t / 5, start[1] + (end[1] - start[1]) * t / 5) for t in range(6)]  # fmt: skip
        for kind, (x, y) in zip(["touchStart", *["touchMove"] * 5], points, strict=True):
            touch.send("Input.dispatchTouchEvent", {"type": kind, "touchPoints": [{"x": x, "y": y}]})
        touch.send("Input.dispatchTouchEvent", {"type": "touchEnd", "touchPoints": []})

    swipe((1950, 925), (1500, 925))  # the target is not chosen yet: this only chooses it
    assert number(page, "body-x-0") == 192
    expect(page.locator("#pick")).to_have_value("body")
    swipe((1950, 925), (1750, 925))
    assert number(page, "body-x-0") == 172
    assert number(page, "contact_x") == 172


def test_a_page_with_changes_is_not_left_unasked(editor: Any) -> None:
    drag(editor, (520, 450), (604, 498))
    asked: list[str] = []
    editor.on("dialog", lambda dialog: (asked.append(dialog.type), dialog.accept()))
    editor.goto("/missions/new/")
    assert asked == ["beforeunload"]
