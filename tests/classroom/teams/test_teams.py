"""Teams, members, codes, PINs, sign-in cards."""

from __future__ import annotations

import datetime as dt
import re
from collections import Counter

import pytest
from django.contrib.auth.hashers import check_password
from django.urls import reverse
from hypothesis import given
from hypothesis import strategies as st

from classroom.errors import ConflictError, InputError
from classroom.models import AuditEntry, Member, Membership, RobotAssignment, Team
from classroom.people.names import one_line, refusal, warning
from classroom.site.qr import qr_svg
from classroom.teams.services.join_codes import (
    ALPHABET,
    code_end,
    code_is_open,
    end_tablet_sessions,
    issue_join_code,
    issue_pin,
    new_join_code,
    new_pin,
    spaced,
    tidy_join_code,
)
from classroom.teams.services.keep_team import (
    add_member,
    add_team,
    archive_team,
    member_mark,
    move_member,
    reopen_team,
    team_mark,
)
from tests import factories as make
from tests.conftest import signed_in_team
from tests.pages import page_of

NOW = make.NOW


# Codes and PINs


def test_a_code_has_eight_symbols_that_are_not_mistaken_for_each_other():
    codes = [new_join_code() for _ in range(2000)]
    assert all(len(code) == 8 and set(code) <= set(ALPHABET) for code in codes)
    assert len(set(codes)) == len(codes)
    for look_alikes in ("0O", "1IL", "5S", "2Z", "8B", "UV"):
        assert not set(look_alikes) & set(ALPHABET)


def test_symbols_of_codes_are_even_within_what_chance_does():
    """Chi-square against even odds; 22 degrees of freedom, 99.99 % below 53 (scipy.stats.chi2.ppf)."""
    counts = Counter("".join(new_join_code() for _ in range(5000)))
    expected = 40_000 / len(ALPHABET)
    assert sum((counts[symbol] - expected) ** 2 / expected for symbol in ALPHABET) < 53


def test_a_pin_is_six_digits_leading_zeros_included():
    pins = [new_pin() for _ in range(3000)]
    assert all(re.fullmatch(r"\d{6}", pin) for pin in pins) and any(pin[0] == "0" for pin in pins)


@given(st.text(alphabet=ALPHABET, min_size=8, max_size=8))
def test_a_code_as_printed_or_typed_by_a_child_is_the_code(code):
    assert tidy_join_code(spaced(code)) == tidy_join_code(f" {code.lower()}\t") == tidy_join_code(spaced(code).replace(" ", "-")) == code  # fmt: skip


def test_a_new_code_ends_the_old_one_and_is_kept_with_its_end(cast):
    old = cast.team_a.join_code
    code = issue_join_code(cast.team_a, cast.coach, now=NOW, expires_at=NOW + dt.timedelta(hours=1))
    team = Team.objects.get(pk=cast.team_a.pk)
    assert team.join_code == code != old
    assert code_is_open(team, NOW) and not code_is_open(team, NOW + dt.timedelta(hours=1))


def test_a_code_ends_with_the_clubs_own_day_week_or_term(cast):
    cast.club.time_zone = "America/New_York"
    make.TermFactory(club=cast.club, ends_on=dt.date(2026, 12, 11))
    late = dt.datetime(2026, 11, 19, 2, 0, tzinfo=dt.UTC)  # still the 18th in New York
    assert [code_end(cast.club, until, late).date().isoformat() for until in ("today", "week", "term")] == [
        "2026-11-18",
        "2026-11-25",
        "2026-12-11",
    ]
    assert code_end(cast.club, "today", late).utcoffset() == dt.timedelta(hours=-5)


def test_a_pin_is_kept_only_as_a_hash(cast):
    pin = issue_pin(cast.team_a, cast.coach, now=NOW)
    team = Team.objects.get(pk=cast.team_a.pk)
    assert check_password(pin, team.pin_hash) and pin not in team.pin_hash


def test_pins_are_hashed_by_argon2_outside_of_tests():
    from config.settings import base

    assert base.PASSWORD_HASHERS[0].endswith("Argon2PasswordHasher")


def test_ending_a_teams_tablets_shuts_out_that_team_only(cast):
    a, b = signed_in_team(cast.team_a), signed_in_team(cast.team_b)
    assert end_tablet_sessions(cast.coach, team=cast.team_a, now=NOW) >= 1
    assert a.get(reverse("team_mission")).status_code == 302
    assert b.get(reverse("team_mission")).status_code == 200


def test_ending_all_tablets_leaves_other_clubs_in(cast):
    theirs = signed_in_team(make.TeamFactory(club=cast.other_coach.club))
    cast.as_coach.post(reverse("tablets_end"))
    assert cast.as_team_a.get(reverse("team_mission")).status_code == 302
    assert theirs.get(reverse("team_mission")).status_code == 200


# Teams and members


def test_a_team_comes_with_a_code_and_a_pin_that_opens_it(cast):
    team, pin = add_team(cast.club, cast.coach, "Avocet", now=NOW)
    assert len(team.join_code) == 8 and check_password(pin, team.pin_hash)


def test_two_teams_of_a_club_have_two_names(cast):
    answer = cast.as_coach.post(reverse("team_new"), {"name": " Curlew "})
    assert answer.status_code == 200 and "has this name" in page_of(answer)
    assert cast.as_other_coach.post(reverse("team_new"), {"name": "Curlew"}).status_code == 302


def test_renaming_to_a_taken_name_keeps_what_was_typed(cast):
    typed = {"name": "Plover", "seen": team_mark(cast.team_a)}
    page = page_of(cast.as_coach.post(reverse("team_edit", args=[cast.team_a.pk]), typed))
    assert "has this name" in page and 'value="Plover"' in page


def test_teams_stand_in_the_order_that_the_club_gives_them(cast):
    """Found by audit: every page shows teams in the club's order, and no page set it."""
    knot = make.TeamFactory(club=cast.club, name="Knot")
    theirs = make.TeamFactory(club=cast.other_coach.club, name="Aardwolf", order=3)
    assert names_in_order(cast.as_coach) == ["Curlew", "Knot", "Plover"]
    cast.as_assistant.post(reverse("team_up", args=[cast.team_b.pk]))
    cast.as_assistant.post(reverse("team_up", args=[cast.team_b.pk]))
    assert names_in_order(cast.as_coach) == ["Plover", "Curlew", "Knot"]
    cast.as_assistant.post(reverse("team_up", args=[cast.team_b.pk]))
    archive_team(cast.team_a, cast.coach, now=NOW)
    cast.as_assistant.post(reverse("team_up", args=[knot.pk]))
    assert names_in_order(cast.as_coach) == ["Knot", "Plover"]
    theirs.refresh_from_db()
    assert theirs.order == 3


def names_in_order(client):
    return [team.name for team in client.get(reverse("teams")).context["teams"]]


def test_an_archived_team_keeps_its_records_and_frees_its_robot_and_members(cast):
    make.AttemptFactory(team=cast.team_a)
    archive_team(cast.team_a, cast.coach, now=NOW)
    assert cast.team_a.attempts.count() == 1
    assert not RobotAssignment.objects.filter(team=cast.team_a, to_on=None).exists()
    assert not Membership.objects.filter(team=cast.team_a, left_on=None).exists()
    assert cast.as_team_a.get(reverse("team_mission")).status_code == 302
    assert not code_is_open(cast.team_a, NOW)


def test_an_archived_team_comes_back_unless_its_name_is_taken(cast):
    archive_team(cast.team_a, cast.coach, now=NOW)
    other = make.TeamFactory(club=cast.club, name="Curlew")
    with pytest.raises(ConflictError):
        reopen_team(cast.team_a, cast.coach, now=NOW)
    other.delete()
    reopen_team(cast.team_a, cast.coach, now=NOW)
    assert Team.objects.active().filter(pk=cast.team_a.pk).exists()


def test_a_member_moves_from_a_day_to_a_day(cast):
    move_member(cast.member_a, cast.team_b, cast.coach, now=NOW)
    before, after = Membership.objects.filter(member=cast.member_a).order_by("pk")
    assert (before.team, before.left_on) == (cast.team_a, NOW.date())
    assert (after.team, after.left_on) == (cast.team_b, None)


def test_a_member_never_moves_to_another_club(cast):
    with pytest.raises(InputError):
        move_member(cast.member_a, make.TeamFactory(), cast.coach, now=NOW)
    other = make.TeamFactory(club=cast.other_coach.club)
    typed = {"nickname": "Robin", "team": other.pk, "seen": member_mark(cast.member_a)}
    cast.as_coach.post(reverse("member", args=[cast.member_a.pk]), typed)
    assert Membership.objects.get(member=cast.member_a, left_on=None).team == cast.team_a


def test_two_of_a_name_in_a_team_are_told_apart_by_the_coach(cast):
    with pytest.raises(ConflictError):
        add_member(cast.team_a, "Robin", cast.coach, now=NOW)


def test_leaving_the_club_keeps_the_name_until_its_time(cast):
    left = {"nickname": "Robin", "team": "", "seen": member_mark(cast.member_a)}
    cast.as_coach.post(reverse("member", args=[cast.member_a.pk]), left)
    assert Member.objects.filter(pk=cast.member_a.pk).exists()
    assert not Membership.objects.filter(member=cast.member_a, left_on=None).exists()


# Names (guard P2)


@pytest.mark.parametrize("name", ["Robin", "Anne-Marie", "Jo B", "D'Arcy", "Zoë", "李"])
def test_a_first_name_or_nickname_raises_no_question(name):
    assert refusal(name) == "" and warning(name) == ""


@pytest.mark.parametrize("name", ["Robin Saltmarsh", "Robin van der Marsh", "robin_saltmarsh", "Saltmarsh, Robin"])
def test_a_full_name_is_asked_about(name):
    assert refusal(name) == "" and warning(name)


@pytest.mark.parametrize(
    "name",
    ["robin@example.org", "=1+1", "+44 20 7946 0000", "@robin", "2014-03-12", "12/03/2014", "12-Mar", "Mar-14"]
    + ["45123", "07700 900123", "", "…", "x" * 25],
)
def test_what_is_no_name_is_refused_in_words(name):
    assert refusal(name).endswith(".")


@given(st.text(max_size=60))
def test_any_text_gets_an_answer_and_one_line(text):
    line = one_line(text)
    assert "\n" not in line and line == line.strip()
    assert isinstance(refusal(line), str) and isinstance(warning(line), str)


def test_a_coach_is_asked_once_about_a_full_name_and_may_say_yes(cast):
    url = reverse("member_add", args=[cast.team_a.pk])
    first = cast.as_coach.post(url, {"nickname": "Robin Saltmarsh"})
    page = page_of(first)
    assert first.status_code == 422 and "looks like a full name" in page and 'type="checkbox" name="sure"' in page
    assert not Member.objects.filter(nickname="Robin Saltmarsh").exists()
    assert cast.as_coach.post(url, {"nickname": "Robin Saltmarsh", "sure": "on"}).status_code == 302


def test_an_e_mail_address_is_never_kept_as_a_name(cast):
    url = reverse("member_add", args=[cast.team_a.pk])
    assert cast.as_coach.post(url, {"nickname": "robin@example.org", "sure": "on"}).status_code == 422
    assert not Member.objects.filter(nickname__contains="@").exists()


# Sign-in cards


def test_a_card_shows_code_and_address_and_no_pin(cast):
    page = page_of(cast.as_coach.get(reverse("sign_in_card", args=[cast.team_a.pk])))
    assert spaced(cast.team_a.join_code) in page and "testserver/team" in page and "write it here" in page


def test_new_pins_for_all_are_shown_once_and_work(cast):
    answer = cast.as_coach.post(reverse("sign_in_cards"))
    pins = re.findall(r'<dd class="code">\s*(\d{6})\s*</dd>', page_of(answer))
    teams = list(Team.objects.filter(club=cast.club).active())
    assert len(pins) == len(teams) and all(check_password(p, t.pin_hash) for p, t in zip(pins, teams, strict=True))
    assert "no-store" in answer["Cache-Control"]
    again = page_of(cast.as_coach.get(reverse("sign_in_cards")))
    assert not any(pin in again for pin in pins)
    assert not any(pin in f"{row.verb} {row.subject}" for row in AuditEntry.objects.all() for pin in pins)


def test_a_qr_code_is_svg_without_style_and_leads_to_the_teams_door(cast):
    """Drawn modules compared with segno's own matrix of the same address."""
    import segno

    address = "http://club.example/team/ACDEFGHJ/"
    drawn = qr_svg(address)
    assert "style" not in drawn and "ACDEFGHJ" not in drawn
    size = len(segno.make(address, error="m", micro=False).matrix) + 8
    assert f'viewBox="0 0 {size} {size}"' in drawn


def test_without_a_team_there_is_no_card_to_print_but_a_team_to_add(cast):
    Team.objects.filter(club=cast.club).update(archived_at=NOW)
    page = page_of(cast.as_coach.get(reverse("sign_in_cards")))
    assert "Add one, then print its card" in page and reverse("team_new") in page
    assert "data-print" not in page and "New PINs" not in page


def test_a_card_warns_when_its_address_is_good_on_this_computer_only(cast):
    page = page_of(cast.as_coach.get(reverse("sign_in_cards"), headers={"host": "localhost:8000"}))
    assert "works on this computer only" in page


def test_the_list_of_teams_costs_the_same_queries_however_many(cast, django_assert_max_num_queries):
    for _ in range(12):
        make.MembershipFactory(team=make.TeamFactory(club=cast.club))
    with django_assert_max_num_queries(9):
        cast.as_coach.get(reverse("teams"))
