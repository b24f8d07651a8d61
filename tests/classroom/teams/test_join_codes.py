"""Codes and PINs as they are typed, printed, ended and made anew."""

from __future__ import annotations

import datetime as dt

import pytest

from classroom.errors import ConflictError
from classroom.models import TabletSession, Team
from classroom.teams.services import join_codes
from classroom.teams.services.join_codes import (
    code_end,
    code_is_open,
    end_tablet_sessions,
    issue_join_code,
    issue_pin,
    spaced,
    tidy_join_code,
    unused_join_code,
)
from tests import factories as make

NOW = make.NOW
SECOND = dt.timedelta(seconds=1)


@pytest.mark.parametrize(
    ("typed", "code"),
    [
        ("acde fghj", "ACDEFGHJ"),
        ("ACDE-FGHJ", "ACDEFGHJ"),
        ("acde–fghj", "ACDEFGHJ"),
        ("a.c·d e\tfghj ", "ACDEFGHJ"),
        ("acde_fghj", "ACDE_FGHJ"),
    ],
)
def test_a_code_is_read_without_the_marks_between(typed, code):
    assert tidy_join_code(typed) == code


def test_a_code_is_printed_in_two_groups_of_four():
    assert spaced("ACDEFGHJ") == "ACDE FGHJ"


@pytest.mark.parametrize(
    ("ends", "archived", "is_open"),
    [
        (None, None, True),
        (NOW + SECOND, None, True),
        (NOW, None, False),
        (NOW - SECOND, None, False),
        (None, NOW, False),
        (NOW + SECOND, NOW, False),
    ],
)
def test_a_code_is_open_to_its_end_and_only_for_a_team_that_plays(ends, archived, is_open):
    assert code_is_open(Team(join_code_expires_at=ends, archived_at=archived), NOW) is is_open


@pytest.mark.parametrize(
    ("until", "ends"),
    [
        ("today", "2026-11-18T23:59:59+00:00"),
        ("week", "2026-11-25T23:59:59+00:00"),
        ("term", "2026-12-11T23:59:59+00:00"),
    ],
)
def test_a_code_ends_with_the_last_second_of_a_day(cast, until, ends):
    make.TermFactory(club=cast.club, ends_on=dt.date(2026, 12, 11))
    assert code_end(cast.club, until, NOW).isoformat() == ends


@pytest.mark.parametrize(
    ("starts", "ends", "day"),
    [
        ("2026-11-18", "2026-12-11", "2026-12-11"),
        ("2026-09-14", "2026-11-18", "2026-11-18"),
        ("2026-11-19", "2026-12-11", "2027-03-18"),
        ("2026-09-14", "2026-11-17", "2027-03-18"),
    ],
)
def test_a_term_counts_on_its_first_and_last_day_and_else_a_code_lasts_as_long_as_a_link(
    cast, settings, starts, ends, day
):
    settings.HELMROOM_LINK_DAYS = 120
    make.TermFactory(club=cast.club, starts_on=dt.date.fromisoformat(starts), ends_on=dt.date.fromisoformat(ends))
    make.TermFactory(club=cast.other_coach.club, ends_on=dt.date(2027, 6, 1))
    assert code_end(cast.club, "term", NOW).date().isoformat() == day


def test_of_two_terms_the_one_that_ends_last_counts(cast):
    make.TermFactory(club=cast.club, ends_on=dt.date(2026, 12, 11))
    make.TermFactory(club=cast.club, ends_on=dt.date(2026, 12, 18))
    make.TermFactory(club=cast.club, ends_on=dt.date(2026, 12, 4))
    assert code_end(cast.club, "term", NOW).date() == dt.date(2026, 12, 18)


def test_a_code_without_an_end_takes_the_old_end_away(cast):
    issue_join_code(cast.team_a, cast.coach, now=NOW, expires_at=NOW)
    assert Team.objects.get(pk=cast.team_a.pk).join_code_expires_at == NOW
    code = issue_join_code(cast.team_a, cast.coach, now=NOW)
    kept = Team.objects.get(pk=cast.team_a.pk)
    assert (kept.join_code, kept.join_code_expires_at) == (code, None)


def test_a_new_pin_is_six_digits_and_kept_for_its_team_alone(cast):
    before = Team.objects.get(pk=cast.team_b.pk).pin_hash
    pin = issue_pin(cast.team_a, cast.coach, now=NOW)
    assert len(pin) == 6 and pin.isdigit()
    assert Team.objects.get(pk=cast.team_b.pk).pin_hash == before


def test_ending_tablets_counts_those_that_are_still_in_and_keeps_when_others_ended(cast):
    TabletSession.objects.all().delete()
    make.TabletSessionFactory(team=cast.team_a)
    make.TabletSessionFactory(team=cast.team_b)
    make.TabletSessionFactory(team=make.TeamFactory(club=cast.other_coach.club))
    ended = make.TabletSessionFactory(team=cast.team_a, ended_at=NOW - SECOND)
    expired = make.TabletSessionFactory(team=cast.team_a, expires_at=NOW)
    assert end_tablet_sessions(cast.coach, team=cast.team_a, now=NOW) == 1
    assert end_tablet_sessions(cast.coach, now=NOW) == 1
    ended.refresh_from_db()
    expired.refresh_from_db()
    assert (ended.ended_at, expired.ended_at) == (NOW - SECOND, None)
    assert TabletSession.objects.filter(ended_at=NOW).count() == 2


def test_a_code_that_a_team_has_is_not_given_to_another(cast, monkeypatch):
    codes = iter(["TAKEN777", "TAKEN777", "FREE7777"])
    make.TeamFactory(join_code="TAKEN777")
    monkeypatch.setattr(join_codes, "new_join_code", lambda: next(codes))
    assert unused_join_code() == "FREE7777"


def test_after_twenty_taken_codes_it_says_so(cast, monkeypatch):
    drawn = []
    make.TeamFactory(join_code="TAKEN777")
    monkeypatch.setattr(join_codes, "new_join_code", lambda: drawn.append(1) or "TAKEN777")
    with pytest.raises(ConflictError) as refused:
        unused_join_code()
    assert (refused.value.code, refused.value.message) == ("no_free_code", "No free code was found; try once more.")
    assert len(drawn) == 20
