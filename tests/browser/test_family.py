"""A guardian's phone: the link, the button, the summary."""

from __future__ import annotations

import datetime as dt
import re

import pytest
from django.core import mail
from django.utils import timezone

from classroom.families.letters import send_letter, write_letter
from classroom.families.share_summary import keep_contact, make_link, revoke_link, write_words
from classroom.models import Attendance, Club, SummaryWords, Term
from missions.models import RotaTurn
from tests import factories as make


def let_a_term_go_by(site, now):
    """One tier passed, the next one nearer from week to week."""
    make.TermFactory(club=site.club, name="Autumn term", starts_on=now.date() - dt.timedelta(days=60))
    site.member_a.memberships.update(joined_on=now.date() - dt.timedelta(days=60))
    _, tiers = make.mission_with_tiers(site.club)
    make.ProgressFactory(team=site.team_a, tier=tiers[0].tier, state="passed", passed_at=now)
    make.ProgressFactory(team=site.team_a, tier=tiers[1].tier, state="working", answer="ready")
    for week, miss in ((5, 110), (3, 70), (1, 25)):
        for i in range(4):
            made = now - dt.timedelta(weeks=week, minutes=i)
            make.AttemptFactory(
                team=site.team_a,
                tier_version=tiers[1],
                robot=site.robot_a,
                plan_number=1,
                made_at=made,
                lateral_mm=miss + 5 * i,
                along_mm=10,
            )


@pytest.fixture
def term(site):
    now = timezone.now()
    let_a_term_go_by(site, now)
    write_words(
        site.member_a,
        site.coach,
        learnt="Measuring a table with a tape.",
        working_on="Finding a way round the gravel bank.",
        ask_at_home="How did you find out that the robot turned too far?",
        approve=True,
        now=now,
    )
    return site


@pytest.fixture
def token(term):
    return make_link(term.member_a, term.coach, now=timezone.now())[1]


@pytest.mark.parametrize("dark", [False, True])
def test_a_guardian_opens_the_summary_on_a_phone(term, token, open_page, axe_clean, dark):
    page = open_page(None, f"/family/{token}/", width=320, height=640, dark=dark, touch=True)
    assert "Robin" not in page.content()
    axe_clean(page)
    page.get_by_role("button", name="Open the summary").tap()
    page.wait_for_url("**/family/")
    assert page.get_by_role("heading", level=1).inner_text() == "Robin's term so far"
    assert "How did you find out" in page.content() and token not in page.content()
    assert page.evaluate("document.documentElement.scrollWidth") <= 320
    axe_clean(page)


def test_the_summary_names_what_its_picture_shows(term, token, open_page):
    page = open_page(None, f"/family/{token}/")
    with page.expect_navigation():
        page.get_by_role("button").click()
    picture = page.get_by_role("img", name="How far from the mark")
    assert picture.count() == 1 and picture.locator("circle").count() == 3


def test_going_back_after_the_visit_shows_nothing(term, token, open_page):
    link, other = make_link(term.member_a, term.coach, now=timezone.now())
    page = open_page(None, f"/family/{other}/")
    page.get_by_role("button").click()
    page.wait_for_url("**/family/")
    revoke_link(link, term.coach, now=timezone.now())
    page.goto("/account/sign-in/")
    page.go_back()
    page.wait_for_load_state()
    assert "Robin" not in page.inner_text("main")


def test_no_request_tells_where_it_came_from(term, token, open_page):
    """The address is the key: it may not travel in a Referer."""
    page = open_page(None, "/account/sign-in/")
    told = []
    page.on("request", lambda request: told.append(request.headers.get("referer", "")))
    page.goto(f"/family/{token}/")
    page.get_by_role("button").click()
    page.wait_for_url("**/family/")
    assert len(told) > 4 and not any(token in referer for referer in told)


def test_the_door_works_by_keyboard_alone_and_without_script(term, token, open_page):
    page = open_page(None, f"/family/{token}/", java_script_enabled=False)
    page.keyboard.press("Tab")
    page.keyboard.press("Tab")
    page.keyboard.press("Enter")
    page.wait_for_url("**/family/")
    assert "Robin" in page.content()


def test_two_hundred_per_cent_leaves_nothing_cut_off(term, token, open_page):
    """Zoom of 200 % at 1280 is 640 CSS pixels (WCAG 2.2, 1.4.10)."""
    page = open_page(None, f"/family/{token}/", width=640, height=400)
    page.get_by_role("button").click()
    page.wait_for_url("**/family/")
    assert page.evaluate("document.documentElement.scrollWidth") <= 640


def test_a_coach_makes_a_link_that_opens_on_another_device(term, open_page):
    page = open_page(term.as_coach, f"/families/{term.member_a.pk}/")
    page.get_by_role("button", name="Make a link").click()
    address = page.get_by_label("Address", exact=True).input_value()
    phone = open_page(None, address, width=390)
    phone.get_by_role("button").click()
    phone.wait_for_url("**/family/")
    assert "Robin's term so far" in phone.content()
    page.goto(f"/families/{term.member_a.pk}/")
    assert page.get_by_label("Address", exact=True).count() == 0


def test_a_clubs_slips_fit_eight_on_a_page_of_a4(term, open_page, axe_clean):
    for _ in range(15):
        make.MembershipFactory(team=term.team_a)
    page = open_page(term.as_coach, "/families/")
    page.get_by_role("link", name="Slips with links").click()
    page.get_by_role("button", name="End all links and make 17 new ones").click()
    page.wait_for_url("**/families/slips/made/")
    assert page.locator(".slip").count() == 17
    axe_clean(page)
    page.emulate_media(media="print")
    paper = page.pdf(format="A4")
    assert len(re.findall(rb"/Type /Page\b(?!s)", paper)) == 3
    page.emulate_media(media="screen")
    page.goto("/families/")
    page.get_by_role("link", name="Robin", exact=True).click()
    page.get_by_role("link", name="End or replace link B").click()
    with page.expect_navigation():
        page.get_by_role("button", name="End link B").click()
    assert "Link B opens nothing any more" in page.content()


def test_words_are_approved_by_one_key_a_child(term, open_page, axe_clean):
    make.MembershipFactory(team=term.team_a)
    page = open_page(term.as_coach, "/families/queue/")
    axe_clean(page)
    left = page.get_by_text("to go")
    assert left.inner_text() == "2 to go"  # one has words already
    page.keyboard.press("Enter")
    page.get_by_text("1 to go").wait_for()
    page.keyboard.press("Enter")
    page.get_by_role("heading", name="All families have words").wait_for()


def test_thirty_children_are_approved_by_keyboard_alone_with_keys_to_spare(term, open_page):
    """Five minutes are 300 seconds: at one key a second, the slowest that anybody presses, 300 keys would do."""
    for _ in range(29):
        make.MembershipFactory(team=term.team_a)
    page = open_page(term.as_coach, "/families/")
    page.add_init_script("addEventListener('mousedown', () => document.body.dataset.pointed = 'yes', true)")
    page.get_by_role("link", name="Write words, one after the other").focus()
    keys = 0

    def press(*names: str) -> None:
        nonlocal keys
        for name in names:
            page.keyboard.press(name)
            keys += 1

    press("Enter")
    for left in range(30, 0, -1):  # Robin has words already: Linnet and 29 more
        page.get_by_text(f"{left} to go", exact=True).wait_for()
        page.wait_for_function("document.activeElement.textContent.trim() === 'Approve and next'")
        if left == 17:  # one is changed first: three Tabs to the first sentence, its last word anew
            press("Tab", "Tab", "Tab", "Control+a")
            for letter in "Measuring a leg.":
                press(letter)
            press("Shift+Tab", "Shift+Tab", "Shift+Tab")
        press("Enter")
    page.get_by_role("heading", name="All families have words").wait_for()
    rows = SummaryWords.objects.filter(approved_by=term.coach).exclude(member=term.member_a)
    assert rows.count() == 30 and rows.filter(learnt="Measuring a leg.").count() == 1
    assert keys == 31 + 7 + len("Measuring a leg.") == 54 <= 300


def test_what_a_child_did_itself_is_on_its_sheet_where_the_club_tells_it(term, token, open_page, axe_clean):
    Club.objects.update(tells_jobs=True)
    at = timezone.now() - dt.timedelta(days=7)
    own = Term.objects.get(club=term.club)
    session = make.SessionFactory(term=own, starts_at=at, ends_at=at + dt.timedelta(minutes=90))
    for slot in range(4):
        RotaTurn.objects.create(session=session, slot=slot, table=make.TableFactory(club=term.club), team=term.team_a)
    Attendance.objects.create(session=session, member=term.member_a, present=True)
    page = open_page(None, f"/family/{token}/", width=320, height=640, touch=True)
    page.get_by_role("button").tap()
    page.get_by_role("heading", name="What Robin did in the team").wait_for()
    assert "measuring with the tape: 4 times" in page.inner_text("main")
    assert page.evaluate("document.documentElement.scrollWidth") <= 320
    axe_clean(page)
    page.emulate_media(media="print")
    assert len(re.findall(rb"/Type /Page\b(?!s)", page.pdf(format="A4"))) == 1


def test_no_more_e_mail_by_one_press_on_a_phone(term, open_page, axe_clean):
    contact = keep_contact(
        term.member_a, term.coach, email="wader@example.org", language="en", consented=True, now=timezone.now()
    )
    send_letter(write_letter(contact, term.coach, now=timezone.now()).pk, now=timezone.now())
    stop = re.search(r"/family/no-mail/\S+", mail.outbox[0].body)[0]
    page = open_page(None, stop, width=320, height=640, touch=True, java_script_enabled=False)
    page.get_by_role("button", name="No more e-mail").tap()
    page.get_by_role("heading", name="No more e-mail", exact=True).wait_for()
    contact.refresh_from_db()
    assert contact.no_mail_why == "unsubscribed"
    again = open_page(None, stop, width=320, height=640)
    axe_clean(again)


def test_a_familys_page_is_one_sheet_of_a4_with_its_picture_and_states_in_black(term, token, open_page):
    page = open_page(None, f"/family/{token}/")
    page.get_by_role("button").click()
    page.wait_for_url("**/family/")
    assert page.get_by_role("img", name="How far from the mark").count() == 1
    page.emulate_media(media="print")
    chip = page.locator(".rungs .chip").first
    assert chip.evaluate("one => getComputedStyle(one).color") == "rgb(0, 0, 0)"
    assert len(re.findall(rb"/Type /Page\b(?!s)", page.pdf(format="A4"))) == 1


def test_sixty_teams_families_are_a_short_page_and_one_is_found_without_any_script(term, open_page, axe_clean):
    for number in range(60):
        team = make.TeamFactory(club=term.club, name=f"Team of bank {number}", order=10 + number)
        for child in "abc":
            make.MembershipFactory(team=team, member__nickname=f"Tern {number}{child}")
    page = open_page(term.as_coach, "/families/", width=360, height=740, java_script_enabled=False)
    assert page.locator(".team-folds > details").count() == 62
    assert page.evaluate("document.documentElement.scrollHeight") < 4200
    page.get_by_label("Find a child or a team").fill("tern 41b")
    with page.expect_navigation():
        page.get_by_role("button", name="Find").click()
    assert page.locator(".team-folds li").all_inner_texts() == ["Tern 41b\n○\nNone yet"]
    assert page.get_by_role("link", name="Tern 41b").is_visible()
    page = open_page(term.as_coach, "/families/", width=360, height=740)
    axe_clean(page)
