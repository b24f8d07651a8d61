"""After a press that draws a part of a page anew the focus stays: on the button, else on what holds it, else on the part's heading."""

from __future__ import annotations

import pytest

from missions.day.services.plan_rota import solve_rota
from tests.browser.conftest import until_on
from tests.browser.day_world import an_afternoon


@pytest.fixture
def today(site, open_page):
    site.world = an_afternoon(site)
    solve_rota(site.world.session, now=site.world.session.starts_at)
    return open_page(site.as_coach, "/today/")


def press(page, name):
    """By the enter key; the part that it draws anew has come when its button is another one."""
    button = page.get_by_role("button", name=name).locator("visible=true").first
    held = button.element_handle()
    button.press("Enter")
    until_on(page, lambda: not held.evaluate("it => it.isConnected"), f"{name} is drawn anew")


def has_focus(page, words):
    """Once all that the answer draws has settled."""
    told = "document.activeElement.textContent.trim().replace(/\\s+/g, ' ')"
    until_on(page, lambda: page.evaluate(told).startswith(words), f"“{words}” has the focus")
    page.wait_for_timeout(100)
    assert page.evaluate(told).startswith(words)


def test_a_button_that_is_there_again_keeps_the_focus(today):
    press(today, "I have gone through all of them today")
    has_focus(today, "I have gone through all of them today")
    press(today, "Plan again from now")
    has_focus(today, "Plan again from now")


def test_a_button_that_is_gone_leaves_the_focus_to_the_heading_of_its_part(today):
    press(today, "Done")
    has_focus(today, "Robots at hand")


def test_a_button_that_is_folded_away_leaves_the_focus_to_the_line_that_opens_it(today):
    card = today.locator("#cautions details[id]").first
    subject = card.locator("summary b").first.inner_text()
    card.locator("summary").first.click()
    card.locator("details > summary").click()
    press(today, "Keep these words")
    has_focus(today, subject)


def test_a_link_of_a_part_that_draws_itself_anew_keeps_the_focus(today):
    link = today.locator("#day a[href='#cautions']")
    link.focus()
    held = link.element_handle()
    today.evaluate("document.getElementById('day').dataset.live = 'old'")
    until_on(today, lambda: not held.evaluate("it => it.isConnected"), "the part is drawn anew")
    has_focus(today, "Cautions checked")


def test_a_button_keeps_the_focus_while_its_part_asks_for_itself_and_hears_the_next_key(today):
    """The part that looks for a better rota is drawn anew every two seconds."""
    stop = today.get_by_role("button", name="Stop: looking for a better rota")
    stop.focus()
    held = stop.element_handle()
    until_on(today, lambda: not held.evaluate("it => it.isConnected"), "the part is drawn anew")
    assert today.evaluate("document.activeElement.textContent").strip().startswith("Stop")
    today.keyboard.press("Enter")
    until_on(today, lambda: "was stopped" in today.locator("#rota-better").inner_text(), "the search is stopped")
