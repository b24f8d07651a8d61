"""A guardian's phone that speaks Spanish, and a press that makes the page German."""

from __future__ import annotations

import re

import pytest
from django.utils import timezone

from classroom.families.share_summary import make_link, set_family_language, write_words
from tests.browser.test_family import let_a_term_go_by


@pytest.fixture
def token(site):
    now = timezone.now()
    let_a_term_go_by(site, now)
    set_family_language(site.member_a, site.coach, "es", now=now)
    words = {"learnt": "Medir una mesa con la cinta.", "working_on": "Rodear el banco.", "ask_at_home": "¿Cómo?"}
    write_words(site.member_a, site.coach, approve=True, now=now, **words)
    return make_link(site.member_a, site.coach, now=now)[1]


@pytest.mark.parametrize("script", [True, False])
def test_a_guardian_opens_the_link_in_spanish_and_makes_it_german_by_a_press(token, open_page, axe_clean, script):
    page = open_page(
        None, f"/family/{token}/", width=360, height=740, touch=True, locale="es-ES", java_script_enabled=script
    )
    page.get_by_role("button", name="Abrir el resumen").tap()
    page.wait_for_url("**/family/")
    assert page.get_by_role("heading", level=1).inner_text() == "Cómo le va a Robin este trimestre"
    assert page.locator("html").get_attribute("lang") == "es"
    page.get_by_role("button", name="Deutsch").tap()
    page.get_by_role("heading", name="So läuft der Kurs für Robin").wait_for()
    assert page.locator("html").get_attribute("lang") == "de"
    assert "Die Worte des Coaches stehen in der Sprache, in der sie freigegeben wurden: Español." in page.inner_text(
        "main"
    )
    assert page.locator("dd").first.get_attribute("lang") == "es"
    page.reload()
    assert page.locator("html").get_attribute("lang") == "de"
    if script:
        axe_clean(page)


def test_the_door_and_the_german_page_fit_the_smallest_phone_and_one_sheet(token, open_page, axe_clean):
    page = open_page(None, f"/family/{token}/", width=320, height=640, touch=True, locale="es-ES")
    page.get_by_role("link", name="Deutsch").tap()
    page.get_by_role("heading", name="Eine Zusammenfassung für eine Familie").wait_for()
    assert page.evaluate("document.documentElement.scrollWidth") <= 320
    axe_clean(page)
    page.get_by_role("button", name="Zusammenfassung öffnen").tap()
    page.get_by_role("heading", name="So läuft der Kurs für Robin").wait_for()
    assert page.evaluate("document.documentElement.scrollWidth") <= 320
    axe_clean(page)
    page.goto("/privacy/children/")
    assert page.evaluate("document.documentElement.scrollWidth") <= 320
    axe_clean(page)
    page.goto("/privacy/")
    assert page.evaluate("document.documentElement.scrollWidth") <= 320
    axe_clean(page)
    page.goto("/family/")
    page.emulate_media(media="print")
    assert len(re.findall(rb"/Type /Page\b(?!s)", page.pdf(format="A4"))) == 1


def test_the_picture_is_drawn_alike_in_every_language(token, open_page):
    page = open_page(None, f"/family/{token}/", locale="de-DE")
    page.get_by_role("button").click()
    page.wait_for_url("**/family/")
    heights = page.locator("svg.series circle").evaluate_all("all => all.map(one => one.getBoundingClientRect().y)")
    assert len(heights) == 3 and len({round(height) for height in heights}) == 3
    assert re.search(r"\d+,\d cm", page.locator("svg.series title").first.text_content())
