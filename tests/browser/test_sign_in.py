"""A coach's way in: password, second step, invitation, a forgotten password."""

from __future__ import annotations

import re

import pytest
from django.utils import timezone
from playwright.sync_api import expect

from classroom.people.services.invite_coach import invite_coach
from tests import factories as make


def sign_in(page, coach, password=make.PASSWORD):
    page.get_by_label("E-mail").fill(coach.user.email)
    page.get_by_label("Password", exact=True).fill(password)
    press(page, "Sign in")


def press(page, name):
    """A button that brings a new page."""
    with page.expect_navigation():
        page.get_by_role("button", name=name).click()


@pytest.mark.parametrize("dark", [False, True])
@pytest.mark.parametrize(
    "path", ["/account/sign-in/", "/account/password/reset/", "/account/sign-up/", "/account/inactive/"]
)
def test_pages_for_nobody_are_accessible(site, open_page, axe_clean, path, dark):
    page = open_page(None, path, width=320, height=640, dark=dark)
    assert page.evaluate("document.documentElement.scrollWidth") <= 320
    axe_clean(page)


def test_a_coach_signs_in_and_out(site, open_page):
    page = open_page(None, "/robots/")
    assert "/account/sign-in/" in page.url
    sign_in(page, site.coach)
    page.wait_for_url("**/robots/")
    assert page.get_by_role("heading", level=1).inner_text() == "Robots"
    press(page, "Sign out")
    page.goto("/robots/")
    assert "/account/sign-in/" in page.url


def test_a_refused_sign_in_says_what_to_do_and_keeps_the_address(site, open_page, axe_clean):
    page = open_page(None, "/account/sign-in/")
    sign_in(page, site.coach, "not this one")
    assert "Check both" in page.get_by_role("alert").inner_text()
    assert page.get_by_label("E-mail").input_value() == site.coach.user.email
    axe_clean(page)


def test_the_second_step_is_set_up_and_used(site, open_page, axe_clean, code_of):
    page = open_page(None, "/account/sign-in/")
    sign_in(page, site.coach)
    page.goto("/account/second-step/")
    axe_clean(page)
    with page.expect_navigation():
        page.get_by_role("link", name="Switch it on").click()
    if "confirm" in page.url:
        page.get_by_label("Password").fill(make.PASSWORD)
        press(page, "Go on")
    assert page.get_by_role("img", name="QR code for an authenticator app").locator("svg").count() == 1
    axe_clean(page)
    secret = page.get_by_label("Or type this secret").input_value()
    page.get_by_label("Authenticator code").fill(code_of(secret))
    press(page, "Switch it on")
    page.goto("/account/second-step/codes/")
    spare = page.locator(".codes li").first.inner_text()
    axe_clean(page)
    other = open_page(None, "/account/sign-in/", width=390, dark=True)
    sign_in(other, site.coach)
    other.wait_for_url("**/second-step/sign-in/")
    axe_clean(other)
    other.get_by_label("Code").fill(spare)
    press(other, "Sign in")
    other.goto("/robots/")
    assert other.get_by_role("heading", level=1).inner_text() == "Robots"


def test_a_browser_that_was_left_somewhere_is_signed_out_from_here(site, open_page, axe_clean):
    left = open_page(None, "/account/sign-in/")
    sign_in(left, site.coach)
    expect(left).not_to_have_url(re.compile("sign-in"))
    page = open_page(None, "/account/sign-in/", width=320)
    sign_in(page, site.coach)
    expect(page).not_to_have_url(re.compile("sign-in"))
    page.goto("/account/sign-ins/")
    expect(page.locator(".chip", has_text="This one")).to_have_count(1)
    assert page.evaluate("document.documentElement.scrollWidth") <= 320
    axe_clean(page)
    page.get_by_role("button", name=re.compile("^End: Chrome on")).press("Enter")
    expect(page.get_by_text("That browser is signed out")).to_be_visible()
    expect(page.get_by_text("You are signed in nowhere else.")).to_be_visible()
    left.goto("/robots/")
    expect(left.get_by_role("heading", level=1)).to_have_text("Coach sign-in")


def test_an_invited_coach_joins_by_keyboard(site, open_page, axe_clean):
    _, token = invite_coach(site.coach, "dunnock@example.org", "assistant", now=timezone.now())
    page = open_page(None, f"/join/{token}/", width=390)
    axe_clean(page)
    page.get_by_label("Your name").focus()
    page.keyboard.type("Dunnock")
    page.keyboard.press("Tab")
    page.keyboard.type("three boats upriver")
    page.keyboard.press("Enter")
    page.wait_for_url(lambda url: "/join/" not in url)
    page.goto("/teams/")
    assert "Curlew" in page.inner_text("main")
    again = open_page(None, f"/join/{token}/")
    assert again.get_by_role("heading", level=1).inner_text() == "This invitation is over"
