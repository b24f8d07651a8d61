"""A team's tablet in German, whose words are the longest: what scripts write is German too, and all of it fits."""

from __future__ import annotations

import re
from collections.abc import Callable
from typing import Any

import pytest
from django.utils import translation
from django.utils.translation import gettext

from classroom.models import Club
from classroom.site.script_words import SAID_BY_SCRIPTS
from missions.models import Attempt
from planning.models import Course
from tests import factories as make
from tests.browser.test_tablet_pages import PAGES, SMALL, full, path  # noqa: F401

pytestmark = pytest.mark.browser

COURSE = [
    ("Fahren", "118"),
    ("Nach links drehen", "45"),
    ("Fahren", "51"),
    ("Nach rechts drehen", "45"),
    ("Schieben", "10"),
    ("Zurückfahren", "12"),
    ("Nach rechts drehen", "135"),
    ("Fahren", "51"),
    ("Nach rechts drehen", "45"),
    ("Fahren", "99,5"),
]
#: Each text of a page, and each that is read aloud, also what waits in attributes and hidden parts.
TEXTS = """() => {
  const texts = [];
  const walk = document.createTreeWalker(document.body, NodeFilter.SHOW_TEXT);
  while (walk.nextNode()) if (!walk.currentNode.parentElement.closest("script, style, template")) texts.push(walk.currentNode.data);
  for (const each of document.querySelectorAll("[aria-label]")) texts.push(each.ariaLabel);
  return texts.map((text) => text.trim()).filter(Boolean);
}"""
#: What is wider than the place that it has: its text leaves its box, or is cut off.
CLIPPED = """() => [...document.querySelectorAll("button, a, label, legend, summary, select, th, td, h1, h2, h3, p, li, .chip, .pick span")]
  .filter((e) => e.offsetParent && !e.closest(".visually-hidden, svg") && getComputedStyle(e).display !== "inline")
  .filter((e) => e.scrollWidth > e.clientWidth + 1 && !["auto", "scroll"].includes(getComputedStyle(e).overflowX))
  .map((e) => `${e.tagName}.${e.className}: ${e.textContent.trim().slice(0, 60)} ${e.scrollWidth} > ${e.clientWidth}`)"""


def english_of_scripts() -> list[tuple[str, re.Pattern[str]]]:
    """What a script would show if it were not told the page's language."""
    with translation.override("de"):
        other = [sentence for sentence in SAID_BY_SCRIPTS if gettext(sentence) != sentence]
    return [(each, re.compile(re.sub(r"\\\{\w+\\\}", ".+", re.escape(each)))) for each in other]


def in_english(page: Any) -> list[str]:
    texts = page.evaluate(TEXTS)
    assert len(texts) > 40
    return [text for text in texts for _, pattern in english_of_scripts() if pattern.fullmatch(text)]


@pytest.fixture
def german(full: Any) -> Any:  # noqa: F811
    Club.objects.filter(pk=full.club.pk).update(locale="de")
    return full


@pytest.fixture
def club(site: Any) -> Any:
    Club.objects.filter(pk=site.club.pk).update(locale="de")
    type(site.robot_a).objects.filter(pk=site.robot_a.pk).update(distance_step_mm=5)
    site.tier = make.mission_with_tiers(site.club)[1][1].tier
    make.ProgressFactory(team=site.team_a, tier=site.tier)
    return site


def test_an_english_word_of_a_script_is_seen(club: Any, open_page: Callable[..., Any]) -> None:
    page = open_page(club.as_team_a, "/team/course/", width=360, height=740)
    page.evaluate("document.querySelector('#editor-title').textContent = 'Step 3: Drive'")
    assert in_english(page) == ["Step 3: Drive"]


def test_a_course_is_drawn_rehearsed_and_a_run_logged_in_german(club: Any, open_page: Callable[..., Any]) -> None:
    page = open_page(club.as_team_a, "/team/course/", width=360, height=740, touch=True)
    assert page.locator(".empty-steps").inner_text() == "Noch keine Schritte. Füge unten den ersten hinzu."
    for name, number in COURSE:
        page.locator(".adders").get_by_role("button", name=name, exact=True).tap()
        page.fill("#amount", number)
        page.press("#amount", "Enter")
    assert page.input_value("#amount") == "99,5 cm"
    page.locator(".step-row input").nth(7).check(force=True)
    assert page.locator("#editor-title").inner_text() == "Schritt 8: Fahren"
    assert page.input_value("#amount") == "51 cm" and page.locator("#flip").inner_text() == "Lieber zurückfahren"
    page.locator(".verdict .chip", has_text="Frei").wait_for()
    page.get_by_role("button", name="Durchspielen").tap()
    page.locator("#rehearsal-deck").wait_for()
    assert in_english(page) == []
    page.get_by_role("button", name="Als Plan 1 speichern").tap()
    page.get_by_role("heading", name="Plan 1").wait_for()
    assert Course.objects.get().check_result["clear"]
    page.get_by_role("link", name="Fahren", exact=True).tap()
    page.get_by_role("button", name="Start", exact=True).tap()
    page.get_by_role("button", name="Stopp").tap()
    page.fill("#duration", "38,2")
    for label in page.locator(".pick.no").all():
        label.tap()
    page.locator("[data-move=left]").tap()
    assert page.locator("#pad-words").inner_text().endswith("cm nach links")
    assert in_english(page) == []
    page.get_by_role("button", name="Diese Fahrt speichern").tap()
    page.locator("#after h2", has_text="Fahrt 1 ist gespeichert").wait_for()
    page.get_by_role("button", name="Nächste Fahrt aufschreiben").wait_for()
    page.locator("#kept").get_by_text("Gespeichert").wait_for()
    assert in_english(page) == []
    assert Attempt.objects.get().duration_s == 38.2


def test_no_page_in_german_scrolls_sideways_or_cuts_a_word_off(german: Any, open_page: Callable[..., Any]) -> None:
    page = open_page(german.as_team_a, "/team/mission/")
    wide, clipped, small = [], {}, {}
    for width, height in [(360, 740), (320, 640), (820, 1180)]:
        page.set_viewport_size({"width": width, "height": height})
        for name in PAGES:
            page.goto(path(german, name))
            page.evaluate("for (const fold of document.querySelectorAll('details')) fold.open = true")
            page.wait_for_timeout(150)
            if page.evaluate("document.documentElement.scrollWidth") > width:
                wide.append((name, width, page.evaluate("document.documentElement.scrollWidth")))
            if found := page.evaluate(CLIPPED):
                clipped[name, width] = found
            if width == 360 and (found := page.evaluate(SMALL)):
                small[name] = found
    assert (wide, clipped, small) == ([], {}, {})
