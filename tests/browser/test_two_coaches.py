"""Two coaches, each in a browser of their own, and the wall that both have on."""

from __future__ import annotations

import pytest
from django.urls import reverse
from playwright.sync_api import expect

from classroom.models import Robot, Spare
from classroom.robots.services.keep_spare import SpareLine, add_spare
from missions.day.services.plan_rota import solve_rota
from missions.day.services.run_session import set_team_day
from missions.day.services.safety_cards import edit_card
from missions.models import RotaTurn
from tests import factories as make
from tests.browser.day_world import CHILDREN, an_afternoon


@pytest.fixture
def day(site):
    site.world = an_afternoon(site)
    session = site.world.session
    solve_rota(session, now=session.starts_at)
    return site


def test_the_slower_of_two_sees_both_and_enter_writes_over_nothing(site, open_page, axe_clean):
    path = reverse("robot_edit", args=[site.robot_a.pk])
    first, second = open_page(site.as_assistant, path), open_page(site.as_coach, path)
    first.get_by_label("Track width").fill("12 cm")
    first.get_by_role("button", name="Save").click()
    first.wait_for_url("**/robots/*/")
    second.get_by_label("Wheel diameter").fill("6.2 cm")
    second.get_by_role("button", name="Save", exact=True).click()
    clash = second.get_by_role("alert").filter(has_text="Somebody else was quicker")
    expect(clash).to_contain_text("Track width")
    expect(second.get_by_label("Wheel diameter")).to_have_value("6.2 cm")
    axe_clean(second)
    second.get_by_label("Wheel diameter").press("Enter")
    second.wait_for_timeout(400)
    assert Robot.objects.get(pk=site.robot_a.pk).wheel_diameter_mm == 56
    second.get_by_label("Track width").fill("12 cm")
    second.get_by_role("button", name="Save mine over theirs").click()
    second.wait_for_url("**/robots/*/")
    robot = Robot.objects.get(pk=site.robot_a.pk)
    assert (robot.wheel_diameter_mm, robot.track_width_mm) == (62, 120)


def test_a_caution_changed_meanwhile_keeps_what_was_typed_in_its_box(day, open_page):
    page = open_page(day.as_coach, "/today/")
    card = page.locator(".card-list details").first
    card.locator("summary").first.click()
    card.get_by_text("Change the words").click()
    box = card.get_by_role("textbox")
    box.fill("Shout stop.")
    edit_card(day.club.safety_cards.first(), day.assistant, "Call stop. Hands up.", now=day.world.session.starts_at)
    card.get_by_role("button", name="Keep these words").click()
    expect(page.locator(".card-list").get_by_role("alert")).to_contain_text("changed this while you had it open")
    expect(page.locator(".card-list textarea").first).to_have_value("Shout stop.")
    page.locator(".card-list details").first.get_by_role("button", name="Keep these words").click()
    expect(page.locator(".card-list p", has_text="Shout stop.")).to_have_count(1)


def test_the_wall_follows_the_rota_by_itself_and_shows_no_child(day, open_page):
    page = open_page(day.as_coach, reverse("session_wall", args=[day.world.session.pk]), width=1920, height=1080)
    expect(page.locator(".wall-tables li")).to_have_count(3)
    expect(page.locator(".wall-left")).to_contain_text("left")
    text = page.inner_text("body")
    assert not [name for name in CHILDREN if name in text]
    shown = page.locator(".wall-now b").first.inner_text()
    turn = RotaTurn.objects.get(session=day.world.session, slot=2, table=day.world.tables[0])
    assert shown == turn.team.name
    turn.delete()
    set_team_day(day.world.session, day.team_b, away=True, now=day.world.session.starts_at)
    expect(page.locator(".wall-now b").first).to_have_text("nobody now")


@pytest.mark.parametrize("dark", [False, True], ids=["light", "dark"])
def test_six_tables_fit_on_the_wall_and_are_read_from_six_metres(day, open_page, dark):
    """A team's name is at least a twentieth of the picture's height, the next one and the caution a thirtieth."""
    for letter in "DEF":
        make.TableFactory(club=day.club, name=f"Table {letter}", order=ord(letter))
    path = reverse("session_wall", args=[day.world.session.pk])
    page = open_page(day.as_coach, path, width=1920, height=1080, dark=dark)
    expect(page.locator(".wall-tables li")).to_have_count(6)
    assert page.evaluate("document.documentElement.scrollHeight") <= 1080
    size = (
        "(css) => Math.min(...[...document.querySelectorAll(css)].map(e => parseFloat(getComputedStyle(e).fontSize)))"
    )
    assert page.evaluate(size, ".wall-now b:not(.soft)") >= 1080 / 20
    assert page.evaluate(size, ".wall-next b") >= 1080 / 30
    assert page.evaluate(size, ".wall-caution p:first-child") >= 1080 / 30


#: How high a capital of the smallest of these is as it is drawn, as a share of the picture's width.
CAPITALS = """css => Math.min(...[...document.querySelectorAll(css)].map(e => {
  const style = getComputedStyle(e), brush = document.createElement('canvas').getContext('2d');
  brush.font = `${style.fontWeight} ${style.fontSize} ${style.fontFamily}`;
  return brush.measureText('H').actualBoundingBoxAscent;
})) / document.documentElement.clientWidth"""


@pytest.mark.parametrize(("width", "height"), [(1024, 768), (1280, 800), (1920, 1080)])
def test_names_on_the_walls_are_a_two_hundredth_of_six_metres_on_a_picture_of_a_metre_and_a_fifth(
    day, open_page, width, height
):
    for letter in "DEF":
        make.TableFactory(club=day.club, name=f"Table {letter}", order=ord(letter))
    share = 6000 / 200 / 1200
    page = open_page(day.as_coach, reverse("session_wall", args=[day.world.session.pk]), width=width, height=height)
    expect(page.locator(".wall-tables li")).to_have_count(6)
    assert page.evaluate(CAPITALS, ".wall-now b:not(.soft)") >= share
    assert page.evaluate(CAPITALS, ".wall-next b") >= share
    assert page.evaluate("document.documentElement.scrollHeight") <= height
    page.goto(reverse("projector", args=[day.world.mission.pk]))
    assert page.evaluate(CAPITALS, ".wall-table tbody th") >= share
    assert page.eval_on_selector(".scroll", "e => e.scrollWidth - e.clientWidth") <= 1
    assert page.evaluate("document.documentElement.scrollHeight") <= height


def test_a_delivery_is_added_from_the_list_of_spares_with_keys_alone(site, open_page):
    tyre = add_spare(site.club, site.coach, SpareLine("Tyre", 1, 4, "Drawer 2"), now=make.NOW)
    page = open_page(site.as_assistant, reverse("spares"), width=360)
    page.get_by_label("How many came in: Tyre").focus()
    page.keyboard.type("6")
    page.keyboard.press("Enter")
    expect(page.locator(".notice.success")).to_contain_text("Tyre: 7 on hand now")
    assert Spare.objects.get(pk=tyre.pk).on_hand == 7
    expect(page.get_by_role("heading", name="To buy")).to_have_count(0)


def test_an_observer_finds_no_form_on_the_list_of_spares(site, open_page):
    add_spare(site.club, site.coach, SpareLine("Tyre", 1, 4, "Drawer 2"), now=make.NOW)
    page = open_page(site.as_observer, reverse("spares"))
    assert page.locator("main form").count() == 0
