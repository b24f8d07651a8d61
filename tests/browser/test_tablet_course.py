"""Drawing a course in a real browser: by touch, by keyboard alone, with the network away, on two tablets."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import pytest

from planning.models import Course
from tests import factories as make

pytestmark = pytest.mark.browser

#: What the buttons are called, and the number typed or stepped to.
COURSE = [
    ("Drive", 118),
    ("Turn left", 45),
    ("Drive", 51),
    ("Turn right", 45),
    ("Push", 10),
    ("Back up", 12),
    ("Turn right", 135),
    ("Drive", 51),
    ("Turn right", 45),
    ("Drive", 100),
]


@pytest.fixture
def club(site: Any) -> Any:
    site.tier = make.mission_with_tiers(site.club)[1][1].tier
    make.ProgressFactory(team=site.team_a, tier=site.tier)
    return site


def add(page: Any, name: str) -> Any:
    return page.locator(".adders").get_by_role("button", name=name, exact=True)


def amount(page: Any) -> float:
    return float(page.input_value("#amount").split()[0].rstrip("°"))


def verdict(page: Any, words: str) -> None:
    page.locator(".verdict .chip", has_text=words).wait_for()


def steps(page: Any) -> list[str]:
    return [" ".join(row.inner_text().split()) for row in page.locator(".step-face").all()]


def draw(page: Any, course: list[tuple[str, int]]) -> None:
    for name, number in course:
        add(page, name).click()
        page.fill("#amount", str(number))
        page.press("#amount", "Enter")


def test_a_course_is_drawn_to_clear_by_touch_alone(club: Any, open_page: Callable[..., Any]) -> None:
    page = open_page(club.as_team_a, "/team/course/", width=820, height=1180, touch=True)
    for name, number in COURSE:
        add(page, name).tap()
        while (gap := number - amount(page)) != 0:
            big = 10 if abs(gap) >= 10 else 1
            page.locator(f'[data-by="{"-" if gap < 0 else ""}{"big" if big == 10 else 1}"]').tap()
    assert steps(page)[5] == "6 Back up 12 cm"
    verdict(page, "Clear")
    page.get_by_role("button", name="Keep as plan 1").tap()
    page.get_by_role("heading", name="Plan 1").wait_for()
    assert Course.objects.get().check_result["clear"]


def test_a_course_is_drawn_to_clear_with_the_keyboard_alone(club: Any, open_page: Callable[..., Any]) -> None:
    page = open_page(club.as_team_a, "/team/course/")

    def go_to(test: str) -> None:
        """Tab, and shift-tab, until what has the focus passes a test in the page."""
        for key in ["Tab"] * 60:
            if page.evaluate(f"(e => {test})(document.activeElement)"):
                return
            page.keyboard.press(key)
        raise AssertionError(f"the keyboard does not reach {test}")

    page.locator(".empty-steps").wait_for()
    for name, number in COURSE:
        go_to(f"e.closest('.adders') && e.textContent === '{name}'")
        page.keyboard.press("Enter")
        page.keyboard.press("Shift+Tab")
        for _ in range(14):
            if page.evaluate("document.activeElement.id") == "amount":
                break
            page.keyboard.press("Shift+Tab")
        page.keyboard.press("ControlOrMeta+a")
        page.keyboard.type(str(number))
        page.keyboard.press("Enter")
    verdict(page, "Clear")
    go_to("e.textContent.trim().startsWith('Keep as plan')")
    assert page.evaluate("getComputedStyle(document.activeElement).outlineStyle") != "none"
    page.keyboard.press("Enter")
    page.get_by_role("heading", name="Plan 1").wait_for()


def test_steps_are_chosen_with_arrow_keys_moved_changed_and_taken_out_and_every_change_undone(
    club: Any, open_page: Callable[..., Any]
) -> None:
    page = open_page(club.as_team_a, "/team/course/")
    draw(page, COURSE[:3])
    before = steps(page)
    page.locator(".step-row input").nth(2).focus()
    page.keyboard.press("ArrowUp")
    assert page.locator("#editor-title").inner_text() == "Step 2: Turn left"
    page.get_by_role("button", name="Turn right instead").click()
    assert steps(page)[1] == "2 Turn right 45°"
    page.get_by_role("button", name="▲ Earlier").click()
    assert steps(page)[0] == "1 Turn right 45°"
    page.get_by_role("button", name="Take out").click()
    assert len(steps(page)) == 2
    for _ in range(3):
        page.get_by_role("button", name="Undo").click()
    assert steps(page) == before
    page.get_by_role("button", name="Redo").click()
    assert steps(page)[1] == "2 Turn right 45°"
    page.keyboard.press("Control+z")
    assert steps(page) == before


def test_a_draft_survives_a_reload_and_a_lost_network(club: Any, open_page: Callable[..., Any]) -> None:
    page = open_page(club.as_team_a, "/team/course/")
    draw(page, COURSE[:2])
    verdict(page, "Not finished")
    page.context.set_offline(True)
    draw(page, COURSE[2:4])
    page.get_by_text("No network: the map shows an earlier draft").wait_for()
    assert len(steps(page)) == 4
    page.context.set_offline(False)
    page.locator("#course:not([data-lost])").wait_for()
    page.reload()
    page.locator(".step-face").nth(3).wait_for()
    assert steps(page)[3] == "4 Turn right 45°"


def test_a_page_that_is_too_old_asks_to_be_loaded_again(club: Any, open_page: Callable[..., Any]) -> None:
    page = open_page(club.as_team_a, "/team/course/")
    draw(page, COURSE[:1])
    verdict(page, "Not finished")
    page.route("**/team/course/", lambda route: route.fulfill(status=403) if route.request.method == "POST" else route.continue_())  # fmt: skip
    draw(page, COURSE[1:2])
    page.locator("#says").get_by_text("Load the page again").wait_for()
    assert not page.get_by_text("No network").is_visible()
    page.unroute("**/team/course/")
    page.reload()
    verdict(page, "Not finished")
    assert len(steps(page)) == 2


def test_a_plan_that_was_kept_while_the_network_was_away_is_still_drawn(
    club: Any, open_page: Callable[..., Any]
) -> None:
    page = open_page(club.as_team_a, "/team/course/")
    address = page.url
    draw(page, COURSE[:3])
    page.context.set_offline(True)
    with page.expect_event("requestfailed", lambda request: request.is_navigation_request()):
        page.get_by_role("button", name="Keep as plan 1").click()
    page.context.set_offline(False)
    page.goto(address)
    page.locator(".step-face").nth(2).wait_for()
    page.get_by_role("button", name="Keep as plan 1").click()
    page.get_by_role("heading", name="Plan 1").wait_for()
    # A plan that another tablet has kept since is what is drawn next; the own one is known to be kept.
    other = open_page(club.as_team_a, "/team/course/")
    draw(other, COURSE[3:4])
    other.get_by_role("button", name="Keep as plan 2").click()
    other.get_by_role("heading", name="Plan 2").wait_for()
    page.goto(address)
    page.locator(".step-face").nth(3).wait_for()
    assert not page.get_by_text("another tablet").is_visible()


def test_a_new_course_is_started_and_that_is_undone(club: Any, open_page: Callable[..., Any]) -> None:
    page = open_page(club.as_team_a, "/team/course/")
    draw(page, [("Drive", 60), ("Turn left", 40)])
    page.get_by_role("button", name="Start a new course").click()
    assert page.locator(".step-face").count() == 0
    assert page.get_by_role("button", name="Start a new course").is_disabled()
    page.get_by_role("button", name="Undo").click()
    assert page.locator(".step-face").count() == 2


def test_a_plan_that_touches_warns_before_it_is_run_and_its_numbers_are_ticked_off(
    club: Any, open_page: Callable[..., Any], axe_clean: Callable[[Any], None]
) -> None:
    page = open_page(club.as_team_a, "/team/course/")
    draw(page, [("Drive", 60), ("Turn left", 40), ("Drive", 90)])
    verdict(page, "Touches")
    page.get_by_role("button", name="Keep as plan 1").click()
    page.get_by_text("Plan 1 touches something on its way.").wait_for()
    assert page.get_by_role("link", name="Run it all the same").is_visible()
    page.get_by_label("Step 1 is typed into the robot").check()
    assert page.get_by_label("Step 2 is typed into the robot").is_checked() is False
    axe_clean(page)


def test_hints_open_one_after_the_other(club: Any, open_page: Callable[..., Any]) -> None:
    page = open_page(club.as_team_a, "/team/course/")
    draw(page, [("Drive", 60), ("Turn left", 40), ("Drive", 90)])
    verdict(page, "Touches")
    says = page.locator("#says")
    assert not says.get_by_text("gravel bank").is_visible()
    page.get_by_text("A hint: what does it touch?").click()
    assert says.get_by_text("The body touches the gravel bank.").is_visible()
    assert not says.get_by_text("step 3").is_visible()
    page.get_by_text("Another hint: in which step?").click()
    assert says.get_by_text("It happens first in step 3: Drive 90 cm.").is_visible()
    page.get_by_text("One more: by how much?").click()
    assert says.get_by_text("By about").is_visible()


def test_a_hint_stays_open_while_it_still_holds_and_closes_when_it_says_something_else(
    club: Any, open_page: Callable[..., Any]
) -> None:
    page = open_page(club.as_team_a, "/team/course/")
    draw(page, [("Drive", 60), ("Turn left", 40), ("Drive", 90)])
    verdict(page, "Touches")
    page.get_by_text("A hint: what does it touch?").click()
    page.get_by_text("Another hint: in which step?").click()
    what = page.get_by_text("The body touches the gravel bank.")

    def press(name: str) -> None:
        seen = int(page.get_attribute("#course", "data-seen"))
        page.get_by_role("button", name=name, exact=True).click()
        page.locator(f"#course[data-seen='{seen + 1}']").wait_for()

    press("+1 cm")
    assert what.is_visible() and page.get_by_text("It happens first in step 3: Drive").is_visible()
    press("Take out")
    press("Take out")
    verdict(page, "Not finished")
    assert page.get_by_text("A hint: what is missing?").is_visible()
    assert not page.locator("[data-hint] p").first.is_visible(), "another hint is asked for anew"


def test_what_the_check_says_stands_under_the_map_and_so_does_a_lost_network(
    club: Any, open_page: Callable[..., Any]
) -> None:
    page = open_page(club.as_team_a, "/team/course/", width=820, height=1180, touch=True)
    draw(page, COURSE[:3])
    state = page.locator("#map .map-state")
    state.get_by_text("Not finished").wait_for()
    page.context.set_offline(True)
    page.get_by_role("button", name="+1 cm", exact=True).click()
    state.get_by_text("No network").wait_for()
    assert page.locator("#map .chart").evaluate("each => getComputedStyle(each).opacity") == "0.5"
    page.context.set_offline(False)
    state.get_by_text("Not finished").wait_for()
    assert page.locator("#map .chart").evaluate("each => getComputedStyle(each).opacity") == "1"


@pytest.mark.parametrize(("width", "height"), [(360, 740), (820, 1180), (1180, 820)])
def test_the_map_stays_in_view_while_a_step_is_changed(
    club: Any, open_page: Callable[..., Any], width: int, height: int
) -> None:
    page = open_page(club.as_team_a, "/team/course/", width=width, height=height, touch=True)
    draw(page, COURSE[:6])
    page.get_by_role("button", name="+1 cm", exact=True).scroll_into_view_if_needed()
    # Both at one moment: the check's answer puts another map there meanwhile.
    button, chart = page.evaluate(
        """() => ["[data-by='1']", "#map .chart"].map(each => document.querySelector(each).getBoundingClientRect().toJSON())"""
    )
    assert chart["y"] >= 0 and chart["y"] + chart["height"] <= height, "the whole map is seen"
    assert chart["y"] + chart["height"] <= button["y"] or chart["x"] + chart["width"] <= button["x"], "beside or above"


def test_two_tablets_draw_one_course_and_the_second_is_told(club: Any, open_page: Callable[..., Any]) -> None:
    one = open_page(club.as_team_a, "/team/course/")
    two = open_page(club.as_team_a, "/team/course/")
    draw(two, COURSE[:3])
    draw(one, COURSE[:2])
    one.get_by_role("button", name="Keep as plan 1").click()
    one.get_by_role("heading", name="Plan 1").wait_for()
    two.get_by_role("button", name="Keep as plan 1").click()
    two.get_by_role("alert").get_by_text("Your team kept plan 1 on another tablet").wait_for()
    two.locator(".step-face").nth(2).wait_for()
    assert len(steps(two)) == 3
    two.get_by_role("button", name="Keep as plan 2").click()
    two.get_by_role("heading", name="Plan 2").wait_for()
    assert [len(c.actions) for c in Course.objects.order_by("number")] == [2, 3]


def test_a_tape_survey_is_entered_as_the_team_goes(club: Any, open_page: Callable[..., Any]) -> None:
    page = open_page(club.as_team_a, "/team/survey/", width=820, height=1180)
    for row, text in enumerate(["190", "45", "196", "75", "94", "50", "124", "75"]):
        page.fill(f'[name="distance-{row}"]', text)
        page.keyboard.press("Tab")
    page.get_by_text("The gravel bank stands 4 cm right of where the mission has it.").wait_for()
    page.reload()
    assert page.input_value('[name="distance-4"]') == "94"
    page.get_by_role("button", name="Keep these places").click()
    page.get_by_text("Drawn where you measured things, today.").wait_for()


def test_straight_runs_are_measured_as_the_team_goes_and_change_the_numbers(
    club: Any, open_page: Callable[..., Any]
) -> None:
    page = open_page(club.as_team_a, "/team/robot/straight/", width=820, height=1180)
    page.fill("#surface", "the mission table")
    for row, measured in enumerate(["102.9", "103.1", "103", "102.8", "103.2"]):
        page.fill(f'[name="run-{row}-commanded"]', "100")
        page.fill(f'[name="run-{row}-measured"]', measured)
        page.keyboard.press("Tab")
    page.get_by_text("Told 100 cm it goes 103 cm").wait_for()
    page.reload()
    assert page.input_value('[name="run-1-measured"]') == "103.1"
    page.locator('[name="run-1-measured"]').press("End")
    page.locator('[name="run-1-measured"]').blur()
    page.get_by_role("button", name="What do they say?").click()
    page.get_by_role("button", name="Keep these numbers").click()
    page.get_by_role("heading", name="Kit 1").wait_for()
    assert page.get_by_text("Measured today").is_visible()
