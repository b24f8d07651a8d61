"""A slow tablet: nothing moves when the scripts come, and none that a page cannot do without waits for another."""

from __future__ import annotations

import re
from collections.abc import Callable
from typing import Any

import pytest

from tests import factories as make
from tests.browser.conftest import until_on
from tests.browser.test_tablet_course import draw
from tests.browser.test_tablet_log import club, kept

__all__ = ["club"]
pytestmark = pytest.mark.browser
SCRIPT = re.compile(r"/static/.*\.js")
#: What moved by itself, with how far: as the browser counts it (W3C Layout Instability, "layout-shift" entries).
WATCH_MOVES = """window.moved = []; new PerformanceObserver((list) => {
  for (const one of list.getEntries()) {
    for (const part of one.sources) {
      window.moved.push(`${part.node?.id || part.node?.className || part.node?.nodeName}: ${part.previousRect.y} to ${part.currentRect.y}`);
    }
  }
}).observe({type: 'layout-shift', buffered: true});"""
PAINTED = "performance.getEntriesByName('first-contentful-paint').length"


@pytest.mark.parametrize("width", [1280, 820, 360])
def test_nothing_moves_when_the_scripts_come(club: Any, open_page: Callable[..., Any], width: int) -> None:
    make.CourseFactory(team=club.team_a, tier_version=club.tier.versions.get(), robot=club.robot_a, number=1)
    page = open_page(club.as_team_a, "/team/mission/", width=width, height=1180, service_workers="block")
    page.add_init_script(WATCH_MOVES)
    held: list[Any] = []
    let_go: list[bool] = []
    page.route(SCRIPT, lambda route: route.continue_() if let_go else held.append(route))
    page.goto("/team/log/", wait_until="commit")
    until_on(page, lambda: held and page.evaluate(PAINTED), "the page without its scripts")
    assert page.locator("#start-stop").is_visible(), "there from the first picture on"
    strip = kept(page).bounding_box()
    let_go.append(True)
    for route in held:
        route.continue_()
    kept(page).get_by_text("Saved").wait_for()
    page.locator("#pad-clear").wait_for()
    page.evaluate("new Promise((done) => requestAnimationFrame(() => requestAnimationFrame(done)))")
    assert page.evaluate("window.moved") == []
    if width == 360:
        assert kept(page).bounding_box() == strip, "the sign has its place in the bar before it has its words"


@pytest.mark.parametrize("width", [1280, 820, 360])
def test_nothing_of_a_course_moves_when_the_scripts_come_and_the_check_answers(
    club: Any, open_page: Callable[..., Any], width: int
) -> None:
    page = open_page(club.as_team_a, "/team/course/", width=width, height=1180, service_workers="block")
    draw(page, [("Drive", 60), ("Turn left", 45), ("Drive", 20)])
    page.add_init_script(WATCH_MOVES)
    held: list[Any] = []
    let_go: list[bool] = []
    page.route(SCRIPT, lambda route: route.continue_() if let_go else held.append(route))
    page.goto("/team/course/", wait_until="commit")
    until_on(page, lambda: len(held) >= 2 and page.locator("#says").count(), "a page that waits for its scripts")
    let_go.append(True)
    for route in held:
        route.continue_()
    page.locator(".verdict").wait_for()
    page.evaluate("new Promise((done) => requestAnimationFrame(() => requestAnimationFrame(done)))")
    assert page.evaluate("window.moved") == []


@pytest.mark.parametrize("path", ["/team/log/", "/team/course/"])
def test_every_module_is_asked_for_at_once(club: Any, open_page: Callable[..., Any], path: str) -> None:
    page = open_page(club.as_team_a, path, service_workers="block")
    kept(page).get_by_text("Saved").wait_for()
    named = page.eval_on_selector_all(
        "link[rel=modulepreload], script[src]", "all => all.map((one) => new URL(one.href || one.src).pathname)"
    )
    came = page.evaluate(
        "performance.getEntriesByType('resource').map((one) => new URL(one.name).pathname).filter((path) => path.endsWith('.js'))"
    )
    assert sorted(set(came)) == sorted(named)
    assert len(came) == len(set(came)), "no module came twice"


def test_a_network_that_goes_before_the_worker_has_come_fails_no_script(
    club: Any, open_page: Callable[..., Any]
) -> None:
    page = open_page(club.as_team_a, "/team/mission/")
    page.add_init_script(
        """navigator.serviceWorker.register = () => { window.asked = 1; return Promise.reject(new TypeError("fetching the script")); }"""
    )
    page.goto("/team/log/")
    until_on(page, lambda: page.evaluate("window.asked"), "the worker asked for")
    kept(page).get_by_text("Saved").wait_for()
    page.evaluate("new Promise((done) => setTimeout(done))")
    assert page.watch.errors == [], "the page goes on without its worker"
