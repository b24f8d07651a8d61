"""The term: sessions by the wall clock, missions on the plan, cancelling, and what is refused."""

from __future__ import annotations

import datetime as dt
from zoneinfo import ZoneInfo

import pytest
import time_machine
from django.urls import reverse
from hypothesis import given
from hypothesis import strategies as st

from classroom.errors import InputError
from classroom.models import Session, Term
from classroom.robots.services.keep_spare import SpareLine, add_spare
from missions.day.services.run_session import mark_child, start_session
from missions.models import PlannedMission, RotaTurn
from missions.term.pages.term import present_term, weeks_of
from missions.term.rules.local_time import moment
from missions.term.services.plan_term import (
    SessionTimes,
    add_sessions,
    add_term,
    bring_back_session,
    cancel_session,
    edit_session,
    remove_session,
    term_mark,
)
from tests import factories as make
from tests.pages import page_of

NOW = make.NOW
LONDON = ZoneInfo("Europe/London")


@pytest.fixture
def term(cast):
    return make.TermFactory(club=cast.club, name="Autumn term")


def times(day=dt.date(2026, 10, 7), starts=(16, 0), ends=(17, 30), place=""):
    return SessionTimes(day, dt.time(*starts), dt.time(*ends), place)


def add(term, chosen=None, missions=(), every_week=False):
    return add_sessions(term, chosen or times(), list(missions), every_week=every_week, now=NOW)


def test_every_week_keeps_the_wall_clock_when_clocks_go_back(term):
    made = add(term, every_week=True)
    assert len(made) == 10
    local = {session.starts_at.astimezone(LONDON).time() for session in made}
    assert local == {dt.time(16, 0)}
    assert {session.starts_at.hour for session in made} == {15, 16}
    assert made[-1].starts_at.date() <= term.ends_on


def test_a_session_over_the_change_of_clocks_is_as_long_as_it_really_is(term):
    (session,) = add(term, times(dt.date(2026, 10, 25), (0, 30), (2, 30)))
    assert session.ends_at - session.starts_at == dt.timedelta(hours=3)


def test_a_clock_time_that_is_skipped_is_refused(cast):
    spring = make.TermFactory(club=cast.club, starts_on=dt.date(2027, 1, 4), ends_on=dt.date(2027, 4, 2))
    with pytest.raises(InputError) as refusal:
        add(spring, times(dt.date(2027, 3, 28), (1, 30), (3, 0)))
    assert refusal.value.code == "no_such_time"


@given(
    st.datetimes(dt.datetime(2000, 1, 1), dt.datetime(2060, 1, 1)),
    st.sampled_from(["Europe/London", "America/St_Johns", "Australia/Lord_Howe", "Asia/Kathmandu"]),
)
def test_a_moment_reads_back_as_it_was_typed_or_is_refused(typed, zone):
    typed = typed.replace(second=0, microsecond=0)
    try:
        found = moment(typed.date(), typed.time(), zone)
    except InputError as error:
        assert error.code == "no_such_time"
        # Refused only inside a gap: an hour later the clock has been put forward.
        before = (typed - dt.timedelta(hours=3)).replace(tzinfo=ZoneInfo(zone)).utcoffset()
        after = (typed + dt.timedelta(hours=3)).replace(tzinfo=ZoneInfo(zone)).utcoffset()
        assert after > before
    else:
        assert found.astimezone(ZoneInfo(zone)).replace(tzinfo=None) == typed


@pytest.mark.parametrize(
    ("chosen", "code"),
    [
        (times(starts=(17, 0), ends=(16, 0)), "ends_before_start"),
        (times(starts=(16, 0), ends=(16, 0)), "ends_before_start"),
        (times(starts=(8, 0), ends=(21, 0)), "too_long"),
        (times(dt.date(2027, 2, 1)), "outside_term"),
    ],
)
def test_times_that_cannot_be_are_refused(term, chosen, code):
    with pytest.raises(InputError) as refusal:
        add(term, chosen)
    assert refusal.value.code == code
    assert not Session.objects.exists()


def test_sessions_that_overlap_are_refused_also_across_terms_and_none_of_a_series_is_left(cast, term):
    add(term, times(dt.date(2026, 10, 21)))
    with pytest.raises(InputError) as refusal:
        add(term, times(starts=(17, 0), ends=(18, 0)), every_week=True)
    assert refusal.value.code == "overlaps"
    assert "21 October" in refusal.value.message
    assert Session.objects.count() == 1
    other = make.TermFactory(club=cast.club, name="Half term camp")
    with pytest.raises(InputError):
        add(other, times(dt.date(2026, 10, 21), (15, 0), (16, 1)))
    add(other, times(dt.date(2026, 10, 21), (14, 0), (16, 0)))


def test_another_clubs_sessions_are_in_nobodys_way(cast, term):
    add(term)
    add(make.TermFactory(name="Autumn term"))
    assert Session.objects.count() == 2


def test_a_session_keeps_its_missions_in_order(cast, term):
    crate, bell = make.MissionFactory(club=cast.club), make.MissionFactory(club=cast.club)
    (session,) = add(term, missions=[crate, bell])
    assert [row.mission for row in PlannedMission.objects.filter(session=session)] == [crate, bell]
    edit_session(session, times(), [bell], now=NOW)
    assert [row.mission for row in PlannedMission.objects.filter(session=session)] == [bell]


def test_a_new_start_takes_the_planned_turns_off_and_a_new_place_does_not(cast, term):
    (session,) = add(term)
    table = make.TableFactory(club=cast.club)
    RotaTurn.objects.create(session=session, slot=0, table=table, team=cast.team_a)
    edit_session(session, times(place="Boat house"), [], now=NOW)
    assert RotaTurn.objects.exists()
    edit_session(session, times(starts=(15, 0)), [], now=NOW)
    assert not RotaTurn.objects.exists()


def test_a_shorter_session_loses_only_the_turns_that_no_longer_fit(cast, term):
    (session,) = add(term)
    table = make.TableFactory(club=cast.club)
    for slot in range(9):
        RotaTurn.objects.create(session=session, slot=slot, table=table, team=cast.team_a)
    edit_session(session, times(ends=(17, 0)), [], now=NOW)
    assert RotaTurn.objects.count() == 6


def test_a_session_that_has_begun_keeps_its_start(term):
    (session,) = add(term)
    start_session(session, now=session.starts_at)
    with pytest.raises(InputError) as refusal:
        edit_session(session, times(starts=(15, 0)), [], now=NOW)
    assert refusal.value.code == "has_begun"
    edit_session(session, times(ends=(18, 0)), [], now=NOW)


def test_a_cancelled_session_makes_room_and_comes_back_only_into_free_time(cast, term):
    (session,) = add(term)
    cancel_session(session, cast.coach, "Hall is flooded", now=NOW)
    add(term, times(starts=(16, 30), ends=(18, 0)))
    with pytest.raises(InputError) as refusal:
        bring_back_session(session, cast.coach, now=NOW)
    assert refusal.value.code == "overlaps"
    remove_session(Session.objects.exclude(pk=session.pk).get(), cast.coach, now=NOW)
    bring_back_session(session, cast.coach, now=NOW)
    session.run.refresh_from_db()
    assert session.run.cancelled_at is None


def test_a_session_with_records_is_cancelled_rather_than_removed(cast, term):
    (session,) = add(term)
    mark_child(session, cast.member_a, True)
    with pytest.raises(InputError) as refusal:
        remove_session(session, cast.coach, now=NOW)
    assert refusal.value.code == "has_records"


@pytest.mark.parametrize(
    ("name", "starts", "ends", "code"),
    [
        ("  ", dt.date(2026, 9, 1), dt.date(2026, 12, 1), "no_name"),
        ("Spring", dt.date(2026, 9, 1), dt.date(2026, 8, 31), "ends_before_start"),
        ("Autumn term", dt.date(2026, 9, 1), dt.date(2026, 12, 1), "name_taken"),
        ("Era", dt.date(2026, 9, 1), dt.date(2036, 12, 1), "too_long"),
    ],
)
def test_a_term_that_cannot_be_is_refused(cast, term, name, starts, ends, code):
    with pytest.raises(InputError) as refusal:
        add_term(cast.coach, name, starts, ends)
    assert refusal.value.code == code


def test_the_term_that_is_on_comes_before_the_next_and_the_last(cast, term):
    add_term(cast.coach, "Spring term", dt.date(2027, 1, 11), dt.date(2027, 3, 26))
    assert present_term(cast.club, dt.date(2026, 10, 1)) == term
    assert present_term(cast.club, dt.date(2026, 12, 24)).name == "Spring term"
    assert present_term(cast.club, dt.date(2028, 1, 1)).name == "Spring term"


def test_the_weeks_show_runs_and_children_of_each_session_and_weeks_without_one(cast, term):
    _, editions = make.mission_with_tiers(cast.club)
    (session,) = add(term, times(dt.date(2026, 9, 16)), [editions[0].tier.mission])
    mark_child(session, cast.member_a, True)
    mark_child(session, cast.member_b, False)
    for _ in range(3):
        make.AttemptFactory(team=cast.team_a, tier_version=editions[0], session=session)
    make.AttemptFactory(team=cast.team_a, tier_version=editions[0], session=session, withdrawn_at=NOW)
    weeks = weeks_of(term, NOW)
    assert len(weeks) == 13
    (line,) = weeks[0].lines
    assert (line.runs, line.here, line.state) == (3, 1, "over")
    assert weeks[1].lines == ()
    assert [week.number for week in weeks if week.is_present] == [10]


def test_the_page_adds_a_session_or_says_why_not(cast, term):
    url = reverse("session_new", args=[term.pk])
    body = {"day": "2026-10-07", "starts": "16:00", "ends": "17:30", "place": "Boat house"}
    assert cast.as_coach.post(url, body).status_code == 302
    again = cast.as_coach.post(url, body)
    assert again.status_code == 422
    assert "already has a session at that time" in page_of(again)
    assert Session.objects.count() == 1


def test_an_ended_or_missing_date_is_said_beside_the_form(cast, term):
    answer = cast.as_coach.post(
        reverse("session_new", args=[term.pk]), {"day": "31/02/2026", "starts": "x", "ends": ""}
    )
    assert answer.status_code == 422
    assert set(answer.context["form"].errors) == {"day", "starts", "ends"}


def test_a_mission_of_another_club_cannot_be_put_on_the_plan(cast, term):
    stranger = make.MissionFactory()
    body = {"day": "2026-10-07", "starts": "16:00", "ends": "17:30", "missions": [stranger.pk]}
    assert cast.as_coach.post(reverse("session_new", args=[term.pk]), body).status_code == 422
    assert not PlannedMission.objects.exists()


@pytest.mark.parametrize("rubbish", ["9" * 19, "9" * 5000, "\u00b2", "-1", "x"])
def test_what_is_no_missions_number_is_passed_over(cast, term, rubbish):
    crate = make.MissionFactory(club=cast.club)
    body = {"day": "2026-10-07", "starts": "16:00", "ends": "17:30", "missions": [rubbish, crate.pk]}
    assert cast.as_coach.post(reverse("session_new", args=[term.pk]), body).status_code == 302
    assert [planned.mission for planned in PlannedMission.objects.all()] == [crate]


def test_without_a_term_the_page_begins_with_one(cast):
    page = cast.as_coach.get(reverse("term"))
    assert "Begin with a term" in page_of(page) and "Leave it" not in page_of(page)
    body = {"name": "Spring term", "starts_on": "2027-01-11", "ends_on": "2027-03-26"}
    assert "Begin with a term" in page_of(cast.as_coach.post(reverse("term_new"), body | {"name": ""}))
    cast.as_coach.post(reverse("term_new"), body)
    assert Term.objects.get().name == "Spring term"
    assert "Leave it" in page_of(cast.as_coach.get(reverse("term_new")))


def test_the_edit_page_shows_the_clubs_own_clock_and_keeps_it(cast, term):
    (session,) = add(term)
    url = reverse("session_edit", args=[session.pk])
    page = cast.as_coach.get(url)
    assert page.context["form"].initial["starts"] == dt.time(16, 0)
    with time_machine.travel(NOW, tick=False):
        typed = {"day": "2026-10-07", "starts": "16:00", "ends": "17:45", "place": "", "seen": page.context["seen"]}
        cast.as_coach.post(url, typed)
    session.refresh_from_db()
    assert session.ends_at.astimezone(LONDON).time() == dt.time(17, 45)


def test_the_term_says_what_is_due_for_robots_and_spares(cast, term):
    page = cast.as_observer.get(reverse("term"))
    assert [line.robot for line in page.context["lines"]] == [cast.robot_a]
    assert "never calibrated" in page_of(page)
    add_spare(cast.club, cast.coach, SpareLine("Tyre", 1, 4), now=NOW)
    assert "Tyre (3)" in page_of(cast.as_observer.get(reverse("term")))


def test_a_term_with_a_wrong_date_is_put_right(cast, term):
    """Found by audit: no page changed a term, and a session outside its dates could not be added."""
    url = reverse("term_edit", args=[term.pk])
    typed = {"name": term.name, "starts_on": "2026-09-14", "ends_on": "2026-12-18", "seen": term_mark(term)}
    assert cast.as_assistant.post(url, typed).status_code == 302
    term.refresh_from_db()
    assert term.ends_on == dt.date(2026, 12, 18)


def test_a_term_is_not_cut_shorter_than_its_sessions(cast, term):
    (session,) = add(term)
    day = session.starts_at.date()
    typed = {
        "name": term.name,
        "starts_on": day + dt.timedelta(days=1),
        "ends_on": "2026-12-11",
        "seen": term_mark(term),
    }
    page = cast.as_coach.post(reverse("term_edit", args=[term.pk]), typed)
    assert page.status_code == 422 and "would lie outside" in page_of(page)


def test_a_session_that_nobody_marked_says_so_instead_of_none_here(cast):
    term = make.TermFactory(club=cast.club)
    make.SessionFactory(term=term, starts_at=make.NOW)
    page = page_of(cast.as_coach.get(reverse("term_of", args=[term.pk])))
    assert "who was here is not marked" in page and "0 children here" not in page
