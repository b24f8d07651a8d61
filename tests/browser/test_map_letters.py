"""Letters of a map: 12 px and more at every width and at 200 % zoom, none cut off, and a bigger map by a tap."""

from __future__ import annotations

import os
from collections.abc import Callable
from typing import Any

import pytest

from tests import factories as make
from tests.browser.test_tablet_pages import full, path

__all__ = ["full"]
pytestmark = pytest.mark.browser

#: A page at 200 % zoom on a screen of 1,280 x 800 has 640 x 400 CSS pixels.
SCREENS = [(360, 740), (640, 400), (820, 1180), (1280, 800)]
LETTERS = """() => [...document.querySelectorAll('svg.chart')].flatMap(svg => {
  const view = svg.viewBox.baseVal, scale = svg.getScreenCTM().a, found = [];
  for (const text of svg.querySelectorAll('text')) {
    if (getComputedStyle(text).visibility === 'hidden') continue;
    const box = text.getBBox(), px = parseFloat(getComputedStyle(text).fontSize) * scale;
    if (px < 12) found.push([text.textContent, 'small', px]);
    if (box.x < view.x - 1 || box.x + box.width > view.x + view.width + 1 || box.y < view.y - 1
      || box.y + box.height > view.y + view.height + 1) found.push([text.textContent, 'cut off', box.x, box.y]);
  }
  return found;
})"""
#: Two numbers of a ruler, two names, or two numbers of steps that lie on one another.
ON_ONE_ANOTHER = """() => [...document.querySelectorAll('svg.chart')].flatMap(svg => {
  const found = [];
  for (const kind of ['.chart-ruler, .chart-label', '.chart-badge-text']) { const seen = [];
  for (const text of svg.querySelectorAll(kind)) {
    if (getComputedStyle(text).visibility === 'hidden') continue;
    const a = text.getBBox();
    for (const [b, words] of seen) if (a.x + 1 < b.x + b.width && b.x + 1 < a.x + a.width && a.y + 1 < b.y + b.height
      && b.y + 1 < a.y + a.height) found.push([text.textContent, words]);
    seen.push([a, text.textContent]);
  } }
  return found;
})"""


@pytest.mark.parametrize(("width", "height"), SCREENS)
def test_letters_of_every_map_can_be_read_and_none_is_cut_off(
    full: Any, open_page: Callable[..., Any], width: int, height: int
) -> None:
    page = open_page(full.as_team_a, "/team/mission/", width=width, height=height)
    wrong: dict[str, Any] = {}
    for name in ("mission", "course", "plan", "survey"):
        page.goto(path(full, name))
        page.locator("svg.chart").first.wait_for()
        page.wait_for_timeout(200)
        if found := page.evaluate(LETTERS) + page.evaluate(ON_ONE_ANOTHER):
            wrong[name] = found
        if folder := os.environ.get("HELMROOM_LETTERS"):
            page.screenshot(path=f"{folder}/letters-{name}-{width}.png", full_page=True)
    assert wrong == {}


#: The fog bell's lever at the far edge of its table, and where it is pushed to.
LEVER = {
    "name": "bell lever",
    "body": [[1340, 1130], [1460, 1130], [1460, 1160], [1340, 1160]],
    "precontact": {"x_mm": 1400.0, "y_mm": 900.0, "heading_deg": 90.0},
    "gap_mm": 30,
    "push_mm": 40,
    "window": {"lateral_mm": 60, "heading_deg": 12, "short_mm": 30, "long_mm": 50},
}
ON_ITS_TARGET = """() => [...document.querySelectorAll('svg.chart')].flatMap(svg =>
  [...svg.querySelectorAll('.chart-label-target')].flatMap(text => { const a = text.getBBox();
    return [...svg.querySelectorAll('.chart-target')].filter(target => { const b = target.getBBox();
      return a.x + 1 < b.x + b.width && b.x + 1 < a.x + a.width && a.y + 0.25 * a.height < b.y + b.height
        && b.y + 1 < a.y + 0.75 * a.height; }).map(() => [text.textContent, a.x, a.y]); }))"""

ON_THE_EDGE = """() => [...document.querySelectorAll('svg.chart')].flatMap(svg => {
  const edge = svg.querySelector('.chart-edge').getBBox();
  return [...svg.querySelectorAll('.chart-label')].filter(text => { const a = text.getBBox();
    return a.y < edge.y - 1 || a.y + a.height > edge.y + edge.height + 1; }).map(text => text.textContent); })"""


@pytest.mark.parametrize(("width", "height"), SCREENS)
def test_a_targets_name_that_grows_does_not_lie_on_the_target(
    site: Any, open_page: Callable[..., Any], width: int, height: int
) -> None:
    _, editions = make.mission_with_tiers(site.club, target=LEVER)
    make.ProgressFactory(team=site.team_a, tier=editions[0].tier)
    page = open_page(site.as_team_a, "/team/mission/", width=width, height=height)
    page.locator("svg.chart").first.wait_for()
    page.wait_for_timeout(200)
    assert page.evaluate(ON_ITS_TARGET) == []
    assert page.evaluate(ON_THE_EDGE) == []
    assert page.evaluate(LETTERS) + page.evaluate(ON_ONE_ANOTHER) == []


def test_a_map_is_shown_bigger_by_a_tap_and_put_away_by_a_key(full: Any, open_page: Callable[..., Any]) -> None:
    page = open_page(full.as_team_a, path(full, "plan"), width=360, height=740, touch=True)
    page.get_by_role("button", name="Bigger map").first.tap()
    shown = page.get_by_role("dialog", name="Map")
    assert shown.locator("svg.chart").bounding_box()["width"] >= 1000
    assert page.evaluate(LETTERS) == []
    assert page.evaluate("document.documentElement.scrollWidth") <= 360
    page.keyboard.press("Escape")
    shown.wait_for(state="detached")
    assert page.evaluate("document.activeElement.textContent") == "Bigger map"


def test_letters_keep_their_size_while_the_course_is_drawn_anew(full: Any, open_page: Callable[..., Any]) -> None:
    page = open_page(full.as_team_a, path(full, "course"), width=360, height=740)
    page.locator(".adders").get_by_role("button", name="Drive", exact=True).click()
    page.fill("#amount", "20")
    page.press("#amount", "Enter")
    page.wait_for_timeout(1500)
    assert page.evaluate(LETTERS) == []
    assert page.get_by_role("button", name="Bigger map").count() == 1
