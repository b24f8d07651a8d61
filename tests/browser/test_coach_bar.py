"""The coach's bar: one row at every width; where the pages do not fit they stand behind a button."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import pytest

pytestmark = pytest.mark.browser


@pytest.mark.parametrize("width", [360, 820])
def test_on_a_small_screen_the_pages_open_from_one_row_that_says_which_page_this_is(
    site: Any, open_page: Callable[..., Any], axe_clean: Callable[[Any], None], width: int
) -> None:
    page = open_page(site.as_coach, "/today/", width=width)
    bar = page.locator("header.bar")
    assert bar.bounding_box()["height"] < 64
    assert bar.locator(".bar-here").inner_text() == "Today"
    assert not page.get_by_role("navigation", name="Main").is_visible()
    menu = page.get_by_role("button", name="Menu")
    menu.focus()
    page.keyboard.press("Enter")
    page.get_by_role("button", name="Sign out").wait_for()
    axe_clean(page)
    page.keyboard.press("Escape")
    assert not page.get_by_role("navigation", name="Main").is_visible()
    assert menu.evaluate("one => one === document.activeElement")
    menu.click()
    page.get_by_role("navigation", name="Main").get_by_role("link", name="Teams").click()
    page.wait_for_url("**/teams/")


def test_on_a_laptop_the_pages_stand_in_the_bar(site: Any, open_page: Callable[..., Any]) -> None:
    page = open_page(site.as_coach, "/today/", width=1280)
    assert not page.get_by_role("button", name="Menu").is_visible()
    assert page.locator("header.bar").bounding_box()["height"] < 64
    page.get_by_role("navigation", name="Main").get_by_role("link", name="Robots").click()
    page.wait_for_url("**/robots/")


def test_every_page_begins_at_the_same_left_edge(site: Any, open_page: Callable[..., Any]) -> None:
    page = open_page(site.as_coach, "/robots/", width=1280)
    edges = {}
    for path in (
        *("/robots/", "/settings/", "/families/", "/teams/", "/today/", "/missions/", "/coaches/", "/settings/log/"),
        *(
            "/teams/new/",
            f"/members/{site.member_a.pk}/",
            "/term/new/",
            "/missions/new/",
            "/account/password/",
            "/privacy/",
        ),
    ):
        page.goto(path)
        edges[path] = page.evaluate(
            "Math.min(...[...document.querySelectorAll('main > *')].filter(one => one.offsetParent).map(one => one.getBoundingClientRect().left))"
        )
    assert set(edges.values()) == {24}, edges
