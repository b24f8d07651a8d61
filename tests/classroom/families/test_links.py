"""Making, handing out and ending a family's links (guard P6 and security 8; OWASP ASVS 5.0.0, 7.2.4 and 7.4 from memory)."""

from __future__ import annotations

import datetime as dt
import html
import re

import pytest
import time_machine
from django.test import Client
from django.urls import reverse

from classroom.access import FAMILY_KEY, TABLET_KEY
from classroom.families.share_summary import make_link, new_seed, next_letter, open_link, revoke_link, token_of
from classroom.families.slips import make_slips, slips_of
from classroom.models import AuditEntry, SummaryLink
from classroom.people.services.invite_coach import invite_coach
from classroom.site.slow_guessing import TRIES
from classroom.site.tokens import digest_of
from tests import factories as make
from tests.conftest import signed_in_with
from tests.pages import page_of

NOW = make.NOW
MADE = "/families/slips/made/"
TOKEN = re.compile(r"/family/([A-Za-z0-9_-]{43})/")


@pytest.fixture
def at_now():
    with time_machine.travel(NOW, tick=False) as clock:
        yield clock


def test_making_a_link_answers_with_a_redirect_and_loading_again_makes_no_second(cast, at_now):
    before = SummaryLink.objects.count()
    answer = cast.as_coach.post(reverse("family_link_new", args=[cast.member_a.pk]))
    assert (answer.status_code, answer.url) == (302, MADE)
    first, again = page_of(cast.as_coach.get(MADE)), page_of(cast.as_coach.get(MADE))
    (token,) = set(TOKEN.findall(first))
    assert TOKEN.findall(again) == TOKEN.findall(first) and SummaryLink.objects.count() == before + 1
    assert open_link(token, now=NOW).member == cast.member_a


def test_only_the_coach_who_made_a_link_sees_its_address_and_for_ten_minutes(cast, at_now):
    cast.as_coach.post(reverse("family_link_new", args=[cast.member_a.pk]))
    cookie = cast.as_coach.cookies["helmroom_slips"]
    assert cookie["httponly"] and cookie["samesite"] == "Strict" and cookie["path"] == MADE
    cast.as_assistant.cookies["helmroom_slips"] = cookie.value
    assert not TOKEN.search(page_of(cast.as_assistant.get(MADE)))
    answer = cast.as_coach.get(MADE)
    assert TOKEN.search(page_of(answer)) and "no-store" in answer["Cache-Control"]
    assert not TOKEN.search(page_of(cast.as_coach.get(reverse("family_member", args=[cast.member_a.pk]))))
    at_now.shift(dt.timedelta(minutes=10, seconds=1))
    assert not TOKEN.search(page_of(cast.as_coach.get(MADE)))


def test_nothing_that_the_server_keeps_can_make_the_token(cast, at_now):
    cast.as_coach.post(reverse("family_link_new", args=[cast.member_a.pk]))
    (token,) = set(TOKEN.findall(page_of(cast.as_coach.get(MADE))))
    assert token not in str(SummaryLink.objects.values()) + str(dict(cast.as_coach.session.items()))


def test_a_childs_links_are_told_apart_by_letters(cast):
    letters = [make_link(cast.member_b, cast.coach, now=NOW)[0].letter for _ in range(3)]
    assert letters == ["B", "C", "D"]  # the cast's own is A
    page = page_of(cast.as_coach.get(reverse("family_member", args=[cast.member_b.pk])))
    assert all(f"<strong>Link {letter}</strong>" in page for letter in "ABCD")
    assert [next_letter(x) for x in ("", "A", "Z", "AZ", "ZZ", "ZZZ")] == ["A", "B", "AA", "BA", "AAA", "A"]


def test_revoking_asks_first(cast):
    url = reverse("family_link_revoke", args=[cast.link_a.pk])
    asked = page_of(cast.as_coach.get(url))
    assert "End link A of Robin?" in asked and "cannot be taken back" in asked
    cast.link_a.refresh_from_db()
    assert cast.link_a.revoked_at is None
    cast.as_coach.post(url)
    cast.link_a.refresh_from_db()
    assert cast.link_a.revoked_at is not None
    assert "A coach ended it" in page_of(cast.as_coach.get(url))


def test_a_batch_gives_each_child_a_token_of_its_own(cast):
    seed = new_seed()
    tokens = {token_of(seed, cast.member_a), token_of(seed, cast.member_b), token_of(new_seed(), cast.member_a)}
    assert len(tokens) == 3 and all(re.fullmatch(r"[A-Za-z0-9_-]{43}", token) for token in tokens)


def test_slips_are_made_for_children_without_a_link_or_for_all(cast):
    third = make.MembershipFactory(team=cast.team_a, member__nickname="Dunnock").member
    gone = make.MembershipFactory(team=cast.team_a, member__nickname="Gone", left_on=dt.date(2026, 10, 1)).member
    seed = new_seed()
    assert make_slips(cast.coach, seed, everyone=False, now=NOW) == 1
    assert [slip.member for slip in slips_of(cast.club, seed, NOW)] == [third]
    other = new_seed()
    assert make_slips(cast.coach, other, everyone=True, now=NOW) == 3
    assert [slip.member.nickname for slip in slips_of(cast.club, other, NOW)] == ["Dunnock", "Robin", "Linnet"]
    assert slips_of(cast.club, seed, NOW) == []  # replaced
    assert not gone.summary_links.exists()
    for slip in slips_of(cast.club, other, NOW):
        assert open_link(slip.token, now=NOW).member == slip.member
    assert AuditEntry.objects.filter(verb="made family link").count() == 4


def test_slips_stay_within_their_club(cast):
    other = make.MembershipFactory(team__club=cast.other_coach.club).member
    seed = new_seed()
    make_slips(cast.other_coach, seed, everyone=True, now=NOW)
    assert slips_of(cast.club, seed, NOW) == [] and not cast.link_a.revoked_at
    assert [slip.member for slip in slips_of(cast.other_coach.club, seed, NOW)] == [other]


def test_a_slip_has_nickname_end_letter_and_square(cast, at_now):
    cast.as_coach.post("/families/slips/", {"who": "all"})
    page = page_of(cast.as_coach.get(MADE))
    assert page.count('class="card slip"') == 2 and page.count("<svg") >= 2
    assert "Robin" in page and "Good until 18 March 2027" in page and "Link B" in page


def test_a_batch_costs_no_more_queries_to_show_however_many_children(cast, django_assert_max_num_queries):
    for _ in range(30):
        make.MembershipFactory(team=cast.team_a)
    cast.as_coach.post("/families/slips/", {"who": "all"})
    with django_assert_max_num_queries(12):
        cast.as_coach.get(MADE)


# A visit ends when somebody else takes over the browser


def guardians_browser(cast):
    token = make_link(cast.member_a, cast.coach, now=NOW)[1]
    browser = Client()
    assert browser.post(reverse("family_door", args=[token])).status_code == 302
    assert browser.get("/family/").status_code == 200
    return browser


def test_the_visit_ends_when_a_coach_signs_in_on_the_same_browser(cast, at_now):
    browser = guardians_browser(cast)
    browser.post("/account/sign-in/", {"login": cast.coach.user.email, "password": make.PASSWORD})
    assert browser.get("/families/").status_code == 200
    assert FAMILY_KEY not in browser.session and browser.get("/family/").status_code == 404
    browser.post("/account/sign-out/")
    assert browser.get("/family/").status_code == 404


def test_a_tablets_sign_in_ends_when_a_coach_signs_in_on_it(cast, at_now):
    tablet = make.TabletSessionFactory(team=cast.team_a)
    browser = signed_in_with(**{TABLET_KEY: tablet.pk})
    browser.post("/account/sign-in/", {"login": cast.coach.user.email, "password": make.PASSWORD})
    tablet.refresh_from_db()
    assert tablet.ended_at == NOW and TABLET_KEY not in browser.session


def test_the_visit_ends_when_a_team_signs_in_on_the_same_browser(cast, at_now):
    browser = guardians_browser(cast)
    answer = browser.post("/team/", {"code": cast.team_a.join_code, "pin": make.PIN})
    assert answer.status_code == 302 and FAMILY_KEY not in browser.session
    assert browser.get("/family/").status_code == 404


def test_the_visit_ends_for_a_coach_who_joins_by_an_invitation(cast, at_now):
    browser = guardians_browser(cast)
    token = invite_coach(cast.coach, "dunnock@example.org", "observer", now=NOW)[1]
    browser.post(reverse("join", args=[token]), {"name": "Dunnock", "password": "four-quiet-oyster-beds"})
    assert browser.get("/families/").status_code == 200 and FAMILY_KEY not in browser.session


@pytest.mark.parametrize("who", ["coach", "tablet"])
def test_a_visit_left_beside_another_sign_in_opens_nothing(cast, who):
    """Whichever way the other sign-in came about."""
    client = cast.as_coach if who == "coach" else cast.as_team_a
    session = client.session
    session[FAMILY_KEY] = cast.link_a.pk
    session.save()
    assert client.get("/family/").status_code == 404


# Guessing


def test_guessed_tokens_are_slowed_by_their_source_and_answer_as_before(cast, at_now):
    """OWASP ASVS 5.0.0, 2.4.1 and 6.3.1 (from memory): against guessing by machine."""
    token = make_link(cast.member_a, cast.coach, now=NOW)[1]
    guesser, door = Client(), reverse("family_door", args=["A" * 43])
    answers = [guesser.post(door, REMOTE_ADDR="192.0.2.7") for _ in range(TRIES)]
    right = reverse("family_door", args=[token])
    held = guesser.post(right, REMOTE_ADDR="192.0.2.7")
    assert {a.status_code for a in [*answers, held]} == {404}
    assert SummaryLink.objects.get(token_digest=digest_of(token)).last_opened_at is None
    assert guesser.post(right, REMOTE_ADDR="192.0.2.8").status_code == 302
    at_now.shift(dt.timedelta(minutes=11))
    assert guesser.post(right, REMOTE_ADDR="192.0.2.7").status_code == 302


def test_a_family_that_opens_its_page_often_is_never_held_back(cast, at_now):
    link, token = make_link(cast.member_a, cast.coach, now=NOW)
    for _ in range(TRIES + 2):
        assert Client().post(reverse("family_door", args=[token])).status_code == 302
    revoke_link(link, cast.coach, now=NOW)


# The last day


def test_a_coach_chooses_a_links_last_day_and_it_opens_until_midnight(cast, at_now):
    url = reverse("family_link_new", args=[cast.member_a.pk])
    cast.as_coach.post(url, {"ends_on": "2026-12-24"})
    link = SummaryLink.objects.order_by("-pk").first()
    assert link.expires_at == dt.datetime(2026, 12, 25, tzinfo=dt.UTC)
    (token,) = set(TOKEN.findall(page_of(cast.as_coach.get(MADE))))
    assert open_link(token, now=link.expires_at - dt.timedelta(seconds=1)) == link
    assert open_link(token, now=link.expires_at) is None


def test_the_forms_begin_with_the_usual_last_day(cast, at_now):
    for page in (reverse("family_member", args=[cast.member_a.pk]), reverse("family_slips")):
        assert 'name="ends_on" value="2027-03-18"' in page_of(cast.as_coach.get(page))


@pytest.mark.parametrize("day", ["2026-11-17", "2027-11-20", "9999-12-31", "soon", ""])
@pytest.mark.parametrize("slips", [False, True])
def test_a_day_that_cannot_be_is_said_and_no_link_is_made(cast, at_now, day, slips):
    before = SummaryLink.objects.count()
    url = reverse("family_slips") if slips else reverse("family_link_new", args=[cast.member_a.pk])
    answer = cast.as_coach.post(url, {"ends_on": day, "who": "all"}, follow=True)
    page = page_of(answer)
    said = re.findall(r'<p class="notice[^"]*"[^>]*>([^<]*)', page)
    words = {
        "": "Give the link's last day.",
        "soon": "Give the link's last day as a date.",
        "2026-11-17": "A link ends between tomorrow and a year from now: give another day.",
        "2027-11-20": "A link ends between tomorrow and a year from now: give another day.",
        "9999-12-31": "A link ends between tomorrow and a year from now: give another day.",
    }
    assert any(words[day] in html.unescape(one) for one in said), said
    assert SummaryLink.objects.count() == before and not SummaryLink.objects.exclude(revoked_at=None).exists()


def test_all_slips_of_a_batch_have_the_chosen_last_day(cast, at_now):
    cast.as_coach.post(reverse("family_slips"), {"ends_on": "2027-01-31", "who": "all"})
    ends = set(SummaryLink.objects.filter(revoked_at=None, member__club=cast.club).values_list("expires_at", flat=True))
    assert ends == {dt.datetime(2027, 2, 1, tzinfo=dt.UTC)}
