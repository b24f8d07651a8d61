"""The coach's pages about robots, teams, people: accessible, on a phone and at a desk, without a mouse."""

from __future__ import annotations

import re

import pytest
from django.utils import timezone
from playwright.sync_api import expect

from classroom.models import Calibration, Member, Robot
from classroom.robots.kinds import KINDS
from classroom.robots.services.calibrate import record_calibration
from classroom.robots.services.keep_spare import SpareLine, add_spare
from tests import factories as make
from tests.browser.hands import Keys

RUNS = [{"commanded_mm": c, "measured_mm": m, "sideways_mm": 4} for c, m in ((600, 588), (600, 590), (900, 882))]


@pytest.fixture
def robot(site):
    for _ in range(2):
        record_calibration(site.robot_a, "straight", "mission mat", RUNS, by_coach=site.coach, now=timezone.now())
    return site.robot_a


def pages(site, of):
    robot, team, member = site.robot_a.pk, site.team_a.pk, site.member_a.pk
    if of == "robots":
        return ["/robots/", "/robots/new/", f"/robots/{robot}/", f"/robots/{robot}/edit/"]
    if of == "spares":
        tyre = add_spare(site.club, site.coach, SpareLine("Tyre", 1, 4, "Grey cabinet, drawer 2"), now=timezone.now())
        return ["/robots/spares/", f"/robots/spares/{tyre.pk}/", "/robots/", f"/robots/{robot}/"]
    if of == "measuring":
        calibration = Calibration.objects.filter(robot=robot).first().pk
        by_picture = [f"/picture/measure/{robot}/{key}/" for key, kind in KINDS.items() if kind.by_picture]
        return [*(f"/robots/{robot}/measure/{kind}/" for kind in KINDS), *by_picture, f"/calibrations/{calibration}/"]
    if of == "teams":
        return ["/teams/", "/teams/new/", f"/teams/{team}/", f"/members/{member}/", "/teams/roster/", "/teams/cards/"]
    if of == "families":
        return ["/families/", f"/families/{member}/", f"/families/{member}/seen/"]
    return [
        "/settings/",
        "/settings/log/",
        "/settings/data/",
        "/coaches/",
        "/account/second-step/",
        "/account/password/",
    ]


@pytest.mark.parametrize("of", ["robots", "spares", "measuring", "teams", "families", "settings"])
@pytest.mark.parametrize(("width", "dark"), [(1280, False), (820, True), (320, False)])
def test_every_page_is_accessible_and_needs_no_sideways_scrolling(site, robot, open_page, axe_clean, of, width, dark):
    wide = []
    page = open_page(site.as_coach, "/robots/", width=width, dark=dark)
    for path in pages(site, of):
        page.goto(path)
        axe_clean(page)
        if page.evaluate("document.documentElement.scrollWidth") > width:
            wide.append(path)
    assert wide == []


def test_a_robot_is_measured_by_keyboard_alone(site, open_page, axe_clean):
    page = open_page(site.as_coach, f"/robots/{site.robot_a.pk}/measure/straight/")
    page.get_by_label("Surface").fill("mission mat")
    page.get_by_label("Run 1: told").focus()
    for told, measured in (("60", "58.8"), ("60", "59"), ("90", "88.2")):
        page.keyboard.type(told)
        page.keyboard.press("Tab")
        page.keyboard.type(measured)
        page.keyboard.press("Tab")
        page.keyboard.press("Tab")
    page.get_by_role("button", name="Work it out").focus()
    page.keyboard.press("Enter")
    page.get_by_role("heading", name="What these runs say").wait_for()
    assert "Told 100 cm it goes 98.1 cm" in page.inner_text("main").replace("\xa0", " ")
    axe_clean(page)
    page.get_by_role("button", name="Keep this calibration").press("Enter")
    page.wait_for_url("**/calibrations/*/")
    assert Calibration.objects.get().robot == site.robot_a


def test_enter_in_a_cell_works_it_out_and_keeps_nothing(site, open_page):
    page = open_page(site.as_coach, f"/robots/{site.robot_a.pk}/measure/straight/")
    page.get_by_label("Surface").fill("mat")
    for i, (told, measured) in enumerate((("60", "58.8"), ("60", "59")), start=1):
        page.get_by_label(f"Run {i}: told").fill(told)
        page.get_by_label(f"Run {i}: measured").fill(measured)
    page.get_by_label("Run 2: measured").press("Enter")
    page.get_by_role("heading", name="What these runs say").wait_for()
    assert "Told 100 cm it goes 98.2 cm" in page.inner_text("main").replace("\xa0", " ")
    page.get_by_label("Run 2: measured").fill("59.6")
    page.get_by_label("Run 2: measured").press("Enter")
    page.get_by_text("it goes 98.7").first.wait_for()
    assert not Calibration.objects.exists()


def test_what_was_worked_out_is_kept_by_the_button_beside_it_and_a_few_keys_away(site, open_page):
    page = open_page(site.as_coach, f"/robots/{site.robot_a.pk}/measure/straight/")
    keys = Keys(page)
    keys.write("Surface", "mat")
    for number, (told, measured) in enumerate((("60", "58.8"), ("60", "59")), start=1):
        keys.write(f"Run {number}: told", told)
        keys.write(f"Run {number}: measured", measured)
    keys.press("Work it out")
    keys.sees("What these runs say")
    keys.press("Keep this calibration")
    page.wait_for_url(re.compile(r"/calibrations/\d+/"))
    assert keys.tabs[-1] < 12


def test_the_outline_is_drawn_while_its_measures_are_typed(site, open_page):
    page = open_page(site.as_coach, "/robots/new/")
    for label, value in (("Axle to front", "15"), ("Axle to back", "5"), ("Width", "15")):
        page.get_by_label(label, exact=True).fill(value)
    page.get_by_label("Width", exact=True).press("Tab")
    page.locator("#outline-preview svg polygon").first.wait_for()
    before = page.locator("#outline-preview polygon").count()
    page.get_by_label("Tool reaches ahead of the front by").fill("5")
    page.get_by_label("Tool width").fill("4")
    page.get_by_label("Tool width").press("Tab")
    page.locator("#outline-preview polygon").nth(before).wait_for()
    assert not Robot.objects.filter(name="").exists()


def test_a_member_is_added_and_a_full_name_asked_about(site, open_page, axe_clean):
    page = open_page(site.as_coach, f"/teams/{site.team_a.pk}/", width=390)
    page.get_by_label("First name or nickname").fill("Merle Marsh")
    page.get_by_role("button", name="Add to Curlew").click()
    expect(page.locator("main")).to_contain_text("looks like a full name")
    axe_clean(page)
    page.get_by_label("First name or nickname").fill("Merle")
    with page.expect_navigation():
        page.get_by_role("button", name="Add to Curlew").click()
    assert Member.objects.filter(nickname="Merle").exists()


def test_a_child_that_was_here_before_is_added_with_the_day_it_came(site, open_page, axe_clean):
    page = open_page(site.as_coach, f"/teams/{site.team_a.pk}/")
    page.get_by_label("First name or nickname").fill("Merle")
    page.get_by_label("Here since").fill("2026-09-14")
    page.get_by_role("button", name="Add to Curlew").click()
    page.get_by_text("Merle is in Curlew.").wait_for()
    assert Member.objects.get(nickname="Merle").memberships.get().joined_on.isoformat() == "2026-09-14"
    page.get_by_label("First name or nickname").fill("Pip")
    page.get_by_label("Here since").fill("2999-01-01")
    page.get_by_role("button", name="Add to Curlew").click()
    page.get_by_text("That day is still to come.").wait_for()
    axe_clean(page)


def test_a_roster_is_pasted_looked_at_and_added(site, open_page, axe_clean):
    page = open_page(site.as_coach, "/teams/roster/")
    page.get_by_label("Paste from a spreadsheet").fill("Merle\tCurlew\nRobin Marsh\tPlover\n=1+1\tCurlew\nJay\tAvocet")
    page.get_by_role("button", name="Look at it first").click()
    expect(page.locator("main")).to_contain_text("3 to add, 1 new team (Avocet)")
    axe_clean(page)
    page.get_by_role("button", name="Add 3 children").click()
    page.wait_for_url("**/teams/")
    assert Member.objects.filter(nickname__in=["Merle", "Jay", "Robin Marsh"]).count() == 3


def test_a_roster_is_put_right_in_its_preview(site, open_page, axe_clean):
    """Unknown headings, a line that cannot be used, and two children of one name in one team."""
    page = open_page(site.as_coach, "/teams/roster/")
    page.get_by_label("Paste from a spreadsheet").fill("Wohin;Wer\nCurlew;Merle\nCurlew;Merle\nPlover;=1+1")
    page.get_by_role("button", name="Look at it first").click()
    page.get_by_label("The name stands in").select_option(label="column 2: Wer …")
    page.get_by_label("The team stands in").select_option(label="column 1: Wohin …")
    page.get_by_label("The first line is a heading").check()
    page.get_by_role("button", name="Look again").click()
    axe_clean(page)
    page.get_by_label("another child, line 3").check()
    page.get_by_label("Name in line 4").fill("Jay")
    page.get_by_role("button", name="Look again").click()
    page.get_by_role("button", name="Add 3 children").click()
    page.wait_for_url("**/teams/")
    assert Member.objects.filter(nickname="Merle").count() == 2 and Member.objects.filter(nickname="Jay").exists()


def test_cards_print_in_black_on_white_without_the_page_around_them(site, open_page):
    page = open_page(site.as_coach, "/teams/cards/", dark=True)
    page.get_by_role("button", name="New PINs").click()
    page.get_by_text("shown now and never again").wait_for()
    page.emulate_media(media="print", color_scheme="light")
    assert not page.locator("nav").first.is_visible() and not page.get_by_role("button").first.is_visible()
    cards = page.locator(".sign-in-card")
    assert cards.count() == 2
    assert set(cards.evaluate_all("cards => cards.map(card => getComputedStyle(card).color)")) == {"rgb(0, 0, 0)"}


def test_a_scanned_card_leads_to_the_teams_door(site, open_page):
    page = open_page(None, f"/team/{site.team_a.join_code}/", width=820, height=1180)
    assert page.locator("input[name=code]").input_value() == site.team_a.join_code


def test_ending_every_tablet_shuts_a_tablet_out(site, open_page):
    tablet = open_page(site.as_team_a, "/team/mission/", width=820)
    page = open_page(site.as_coach, "/teams/")
    page.get_by_role("button", name="Sign every tablet out").click()
    page.get_by_text("are signed out").wait_for()
    tablet.reload()
    assert tablet.url.rstrip("/").endswith("/team")


def test_pages_work_without_script(site, open_page):
    page = open_page(site.as_coach, f"/robots/{site.robot_a.pk}/measure/straight/", java_script_enabled=False)
    page.get_by_label("Surface").fill("mat")
    page.get_by_label("Run 1: told").fill("60")
    with page.expect_navigation():
        page.get_by_role("button", name="More rows").click()
    assert page.get_by_label("Run 10: told").count() == 1
    assert page.get_by_label("Run 1: told").input_value() == "60"


def test_a_unit_of_the_club_is_the_unit_of_its_pages(site, open_page):
    page = open_page(site.as_coach, "/settings/")
    page.get_by_label("Lengths are shown in").select_option("in")
    with page.expect_navigation():
        page.get_by_role("button", name="Save").click()
    page.goto(f"/robots/{site.robot_a.pk}/")
    assert "2.2 in across" in page.inner_text("main").replace("\xa0", " ")


@pytest.mark.parametrize("paper", ["A4", "Letter"])
def test_sign_in_cards_are_cut_out_four_to_a_page(site, open_page, paper) -> None:
    for name in ("Avocet", "Dunlin", "Heron", "A team with quite a long name of its own"):
        make.TeamFactory(club=site.club, name=name)
    page = open_page(site.as_coach, "/teams/cards/")
    cards = page.locator(".sign-in-card")
    expect(cards).to_have_count(6)
    assert len(re.findall(rb"/Type\s*/Page\b", page.pdf(format=paper))) == 2
    page.emulate_media(media="print")
    page.set_viewport_size({"width": 720, "height": 1000})
    assert all(card.evaluate("el => el.scrollHeight <= el.clientHeight + 1") for card in cards.all())


#: Boxes beside one another whose lower edges are not on one line.
UNEVEN = """() => {
  for (const fold of document.querySelectorAll('details')) fold.open = true;
  const boxes = [...document.querySelectorAll('main .field :is(input, select)')]
    .filter(box => !['hidden', 'radio', 'checkbox'].includes(box.type) && box.checkVisibility());
  return boxes.slice(1).flatMap((box, i) => {
    const a = boxes[i].getBoundingClientRect(), b = box.getBoundingClientRect();
    const beside = b.left >= a.right - 1 && b.top < a.bottom && b.bottom > a.top;
    return beside && Math.abs(a.bottom - b.bottom) > 1 ? [[boxes[i].name, box.name, b.bottom - a.bottom]] : [];
  });
}"""


@pytest.mark.parametrize("width", [820, 1280])
def test_boxes_beside_one_another_stand_on_one_line_however_long_their_labels(site, open_page, width):
    mission, _ = make.mission_with_tiers(site.club)
    page, uneven = open_page(site.as_coach, "/robots/new/", width=width), {}
    for path in (f"/robots/{site.robot_a.pk}/edit/", "/settings/bar/", f"/missions/{mission.pk}/edit/"):
        page.goto(path)
        assert page.locator("main .field").count() > 5
        if found := page.evaluate(UNEVEN):
            uneven[path] = found
    assert uneven == {}
