"""Terms and sessions to the row, the minute, the sentence and the log."""

from __future__ import annotations

import datetime as dt

import pytest

from classroom.errors import ConflictError, InputError
from classroom.models import Attendance, Session, Term
from missions.models import PlannedMission, QuickNote, RotaTurn, SessionRun
from missions.term.services.plan_term import (
    SessionTimes,
    add_sessions,
    add_term,
    bring_back_session,
    cancel_session,
    edit_session,
    edit_term,
    place_missions,
    plan_missions,
    remove_session,
    session_mark,
    tables_mark,
    term_mark,
)
from tests import factories as make
from tests.log import noted_by, tells_live_pages

NOW = make.NOW
DAY = dt.timedelta(days=1)
STARTS, ENDS = dt.date(2026, 9, 14), dt.date(2026, 12, 11)
WEDNESDAY = dt.date(2026, 11, 25)


@pytest.fixture
def term(cast):
    return make.TermFactory(club=cast.club, name="Autumn term", starts_on=STARTS, ends_on=ENDS)


@pytest.fixture
def session(term):
    return add(term)[0]


def times(day=WEDNESDAY, starts=(16, 0), ends=(17, 30), place="Boat house"):
    return SessionTimes(day, dt.time(*starts), dt.time(*ends), place)


def add(term, chosen=None, missions=(), every_week=False):
    return add_sessions(term, chosen or times(), list(missions), every_week=every_week, now=NOW)


def refused(error, act):
    with pytest.raises(error) as raised:
        act()
    return raised.value.code, raised.value.message


def row(session):
    return Session.objects.values_list("starts_at", "ends_at", "place").get(pk=session.pk)


def at(hour, minute=0, day=WEDNESDAY):
    return dt.datetime.combine(day, dt.time(hour, minute), dt.UTC)


# Terms


def test_a_term_is_kept_with_a_tidy_name(cast):
    kept = Term.objects.get(pk=add_term(cast.coach, " Autumn \n term ", STARTS, ENDS).pk)
    assert (kept.club, kept.name, kept.starts_on, kept.ends_on) == (cast.club, "Autumn term", STARTS, ENDS)


@pytest.mark.parametrize(
    ("name", "ends", "said"),
    [
        ("  ", ENDS, ("no_name", "Give the term a name, such as Autumn term.")),
        ("New", STARTS - DAY, ("ends_before_start", "The term ends before it starts. Check the two dates.")),
        ("New", STARTS + 401 * DAY, ("too_long", "A term is at most 400 days. Make two of it.")),
        (
            "Autumn term",
            ENDS,
            ("name_taken", "There is a term named Autumn term already. Choose another name."),
        ),
    ],
)
def test_a_term_that_cannot_be_says_why(cast, term, name, ends, said):
    assert refused(InputError, lambda: add_term(cast.coach, name, STARTS, ends)) == said
    spring = make.TermFactory(club=cast.club, name="Spring term")
    assert refused(InputError, lambda: edit_term(spring, cast.coach, name, STARTS, ends, now=NOW)) == said


def test_a_term_of_one_day_and_one_of_four_hundred_may_be_and_other_clubs_names_too(cast, term):
    make.TermFactory(club=cast.other_coach.club, name="Spring term")
    add_term(cast.coach, "Spring term", STARTS, STARTS)
    add_term(cast.coach, "Long term", STARTS, STARTS + 400 * DAY)


def test_a_term_is_changed_noted_and_told(cast, term):
    act = lambda: edit_term(term, cast.coach, "Winter term", STARTS + DAY, ENDS - DAY, now=NOW)  # noqa: E731
    assert noted_by(act, cast.club, NOW) == ["lead changed term (term Winter term)"]
    kept = Term.objects.get(pk=term.pk)
    assert (kept.name, kept.starts_on, kept.ends_on) == ("Winter term", STARTS + DAY, ENDS - DAY)
    assert tells_live_pages(act, cast.club)


@pytest.mark.parametrize(
    ("days", "starts", "ends", "words"),
    [
        ([WEDNESDAY], WEDNESDAY, WEDNESDAY, None),
        ([WEDNESDAY], WEDNESDAY + DAY, ENDS, "25 November 2026 has a session that would lie outside."),
        ([WEDNESDAY], STARTS, WEDNESDAY - DAY, "25 November 2026 has a session that would lie outside."),
    ],
)
def test_every_session_stays_inside_its_term(cast, term, days, starts, ends, words):
    for day in days:
        add(term, times(day))
    act = lambda: edit_term(term, cast.coach, "Autumn term", starts, ends, now=NOW)  # noqa: E731
    if words is None:
        act()
    else:
        assert refused(InputError, act) == ("sessions_outside", f"{words} Move or delete it first.")


def test_the_first_of_several_sessions_outside_is_named(cast, term):
    for day in (WEDNESDAY + 7 * DAY, WEDNESDAY):
        add(term, times(day))
    act = lambda: edit_term(term, cast.coach, "Autumn term", STARTS, STARTS + DAY, now=NOW)  # noqa: E731
    assert refused(InputError, act)[1] == (
        "25 November 2026 has a session that would lie outside. Move or delete it first, and others."
    )


# Sessions


def test_a_session_is_kept_by_the_clubs_clock_with_a_run_of_its_own(cast, term):
    cast.club.time_zone = "America/New_York"
    cast.club.save()
    (made,) = add(Term.objects.get(pk=term.pk))
    assert row(made) == (at(21), at(22, 30), "Boat house")
    assert SessionRun.objects.get(session=made).changed_at == NOW
    assert tells_live_pages(lambda: add(term, times(WEDNESDAY + DAY)), cast.club)


@pytest.mark.parametrize(
    ("day", "every_week", "count"),
    [
        (WEDNESDAY, False, 1),
        (WEDNESDAY, True, 3),
        (dt.date(2026, 12, 11), True, 1),
        (dt.date(2026, 12, 4), True, 2),
    ],
)
def test_every_week_goes_to_the_last_day_of_the_term(term, day, every_week, count):
    made = add(term, times(day), every_week=every_week)
    assert [row(session)[0].date() for session in made] == [day + 7 * n * DAY for n in range(count)]


OUTSIDE = "is outside Autumn term (14 Sep to 11 Dec). Choose another date or term."


@pytest.mark.parametrize(
    ("chosen", "said"),
    [
        (times(ends=(16, 0)), ("ends_before_start", "The session ends before it starts. Check the two times.")),
        (times(starts=(8, 0), ends=(20, 1)), ("too_long", "A session is at most 12 hours. Check the two times.")),
        (times(ENDS + DAY), ("outside_term", f"12 December 2026 {OUTSIDE}")),
        (times(STARTS - DAY), ("outside_term", f"13 September 2026 {OUTSIDE}")),
    ],
)
@pytest.mark.parametrize("every_week", [False, True])
def test_times_that_cannot_be_say_why(term, chosen, said, every_week):
    assert refused(InputError, lambda: add(term, chosen, every_week=every_week)) == said
    assert not Session.objects.exists()


@pytest.mark.parametrize("chosen", [times(starts=(8, 0), ends=(20, 0)), times(STARTS), times(ENDS)])
def test_the_longest_session_and_the_first_and_last_day_may_be(term, chosen):
    assert len(add(term, chosen)) == 1


@pytest.mark.parametrize(
    ("starts", "ends", "overlaps"),
    [
        ((15, 0), (16, 0), False),
        ((15, 0), (16, 1), True),
        ((17, 30), (18, 0), False),
        ((17, 29), (18, 0), True),
        ((16, 30), (17, 0), True),
        ((15, 0), (18, 0), True),
    ],
)
def test_sessions_may_touch_and_not_overlap(cast, term, session, starts, ends, overlaps):
    other = make.TermFactory(club=cast.club, name="Camp")
    if overlaps:
        assert refused(InputError, lambda: add(other, times(starts=starts, ends=ends))) == (
            "overlaps",
            "25 November already has a session at that time (Autumn term). Change one of the two.",
        )
    else:
        add(other, times(starts=starts, ends=ends))


def test_a_cancelled_session_makes_room_but_not_for_one_at_the_same_moment(cast, term, session):
    cancel_session(session, cast.coach, "Ice", now=NOW)
    add(term, times(starts=(16, 30), ends=(17, 0)))
    assert refused(InputError, lambda: add(term, times(ends=(16, 20))))[0] == "overlaps"


def test_a_session_is_changed_noted_and_told(cast, term, session):
    mission = make.MissionFactory(club=cast.club)
    chosen = times(WEDNESDAY + DAY, (10, 0), (11, 0), "Hall")
    act = lambda: edit_session(session, chosen, [mission], coach=cast.coach, now=NOW + DAY)  # noqa: E731
    entries = noted_by(act, cast.club, NOW + DAY)
    assert len(entries) == 1 and entries[0].startswith("lead changed session (session Autumn term")
    assert row(session) == (at(10, day=WEDNESDAY + DAY), at(11, day=WEDNESDAY + DAY), "Hall")
    assert [plan.mission for plan in PlannedMission.objects.filter(session=session)] == [mission]
    run = SessionRun.objects.get(session=session)
    assert (run.changed_at, run.sequence) == (NOW + DAY, 2)
    assert tells_live_pages(act, cast.club)


def fill(session, table, team, slots=9):
    for slot in range(slots):
        RotaTurn.objects.create(session=session, slot=slot, table=table, team=team)


def slots(session):
    return list(RotaTurn.objects.filter(session=session).order_by("slot").values_list("slot", flat=True))


@pytest.mark.parametrize(
    ("starts", "ends", "left"),
    [
        ((16, 0), (17, 30), list(range(9))),
        ((16, 0), (18, 0), list(range(9))),
        ((16, 0), (17, 0), list(range(6))),
        ((16, 0), (16, 59), list(range(5))),
        ((15, 0), (17, 30), []),
    ],
)
def test_turns_go_when_the_start_moves_and_those_that_no_longer_fit_when_the_end_does(
    cast, term, session, starts, ends, left
):
    table = make.TableFactory(club=cast.club)
    (other,) = add(term, times(WEDNESDAY + DAY))
    fill(session, table, cast.team_a)
    fill(other, table, cast.team_a)
    edit_session(session, times(starts=starts, ends=ends), [], now=NOW)
    assert slots(session) == left and slots(other) == list(range(9))


def test_a_session_that_has_begun_keeps_its_start(cast, term, session):
    SessionRun.objects.filter(session=session).update(started_at=at(16))
    edit_session(session, times(ends=(18, 0)), [], now=NOW)
    assert refused(InputError, lambda: edit_session(session, times(starts=(15, 0)), [], now=NOW)) == (
        "has_begun",
        "This session has begun: its start stays. Its end and place may change.",
    )


@pytest.mark.parametrize("field", ["starts", "ends", "place", "missions", "order"])
def test_a_sessions_mark_is_of_all_that_its_form_shows(cast, term, field):
    missions = [make.MissionFactory(club=cast.club) for _ in range(2)]
    (session,) = add(term, missions=missions)
    seen = session_mark(Session.objects.get(pk=session.pk))
    changes = {
        "starts": (times(starts=(15, 0)), missions),
        "ends": (times(ends=(17, 0)), missions),
        "place": (times(place="Hall"), missions),
        "missions": (times(), missions[:1]),
        "order": (times(), missions[::-1]),
    }
    edit_session(session, times(), missions, now=NOW)
    assert session_mark(Session.objects.get(pk=session.pk)) == seen
    edit_session(session, *changes[field], coach=cast.assistant, now=NOW)
    assert session_mark(Session.objects.get(pk=session.pk)) != seen
    code, words = refused(
        ConflictError, lambda: edit_session(session, times(), missions, coach=cast.coach, seen=seen, now=NOW)
    )
    assert code == "changed_meanwhile" and words.startswith(f"{cast.assistant} changed this")


def test_the_slower_of_two_hears_who_changed_the_term(cast, term):
    seen = term_mark(term)
    edit_term(term, cast.assistant, "Winter term", STARTS, ENDS, now=NOW)
    act = lambda: edit_term(term, cast.coach, "Term", STARTS, ENDS, seen=seen, now=NOW)  # noqa: E731
    assert refused(ConflictError, act)[1].startswith(f"{cast.assistant} changed this")
    marks = {term_mark(Term(name=n, starts_on=s, ends_on=e)) for n, s, e in [("A", 1, 2), ("B", 1, 2), ("A", 3, 2)]}
    assert len(marks | {term_mark(Term(name="A", starts_on=1, ends_on=3))}) == 4


# Missions and tables of a session


def test_planning_again_keeps_order_and_tables_of_what_stays(cast, term):
    table = make.TableFactory(club=cast.club)
    first, second, third = (make.MissionFactory(club=cast.club) for _ in range(3))
    (session,) = add(term, missions=[first, second])
    (other,) = add(term, times(WEDNESDAY + DAY), [first])
    place_missions(session, {second.pk: table}, now=NOW)
    before = SessionRun.objects.get(session=session).sequence
    plan_missions(session, [third, second], now=NOW + DAY)
    plans = PlannedMission.objects.filter(session=session).order_by("order")
    assert [(plan.mission, plan.order, plan.table) for plan in plans] == [(third, 0, None), (second, 1, table)]
    assert PlannedMission.objects.get(session=other).mission == first
    run = SessionRun.objects.get(session=session)
    assert (run.sequence, run.changed_at) == (before + 1, NOW + DAY)


def test_a_mission_is_tied_to_a_table_in_one_session_and_set_free(cast, term):
    table, away = make.TableFactory(club=cast.club), make.TableFactory(club=cast.club, name="Table 9", retired_at=NOW)
    mission = make.MissionFactory(club=cast.club)
    (session,) = add(term, missions=[mission, make.MissionFactory(club=cast.club)])
    (other,) = add(term, times(WEDNESDAY + DAY), [mission])
    tables = lambda: list(PlannedMission.objects.order_by("session", "order").values_list("table", flat=True))  # noqa: E731
    seen = tables_mark(session)
    assert tells_live_pages(lambda: place_missions(session, {mission.pk: table}, seen=seen, now=NOW), cast.club)
    assert tables() == [table.pk, None, None] and tables_mark(other) != tables_mark(session)
    assert refused(ConflictError, lambda: place_missions(session, {mission.pk: None}, seen=seen, now=NOW)) == (
        "changed_meanwhile",
        "Somebody changed this while you had it open. Here is how it stands now: choose again.",
    )
    assert refused(InputError, lambda: place_missions(session, {mission.pk: away}, now=NOW)) == (
        "table_away",
        "Table 9 has been put away. Choose another table.",
    )
    place_missions(session, {mission.pk: None}, now=NOW)
    assert tables() == [None, None, None]


# Cancelled, brought back, removed


def test_a_session_is_cancelled_and_brought_back(cast, term, session):
    act = lambda: cancel_session(session, cast.coach, f" Ice \n {'x' * 130}", now=NOW + DAY)  # noqa: E731
    assert noted_by(act, cast.club, NOW + DAY)[0].startswith("lead cancelled session (session Autumn term")
    run = SessionRun.objects.get(session=session)
    assert (run.cancelled_at, run.cancelled_why) == (NOW + DAY, f"Ice {'x' * 130}"[:120])
    assert (run.sequence, run.changed_at) == (2, NOW + DAY)
    back = lambda: bring_back_session(session, cast.coach, now=NOW + DAY)  # noqa: E731
    assert noted_by(back, cast.club, NOW + DAY)[0].startswith("lead brought back session (session Autumn term")
    run.refresh_from_db()
    assert (run.cancelled_at, run.cancelled_why, run.sequence) == (None, "", 3)
    assert tells_live_pages(act, cast.club) and tells_live_pages(back, cast.club)


def test_a_session_whose_time_was_taken_meanwhile_does_not_come_back(cast, term, session):
    cancel_session(session, cast.coach, "Ice", now=NOW)
    add(term, times(starts=(16, 30), ends=(17, 0)))
    assert refused(InputError, lambda: bring_back_session(session, cast.coach, now=NOW))[0] == "overlaps"


def test_a_session_that_has_begun_is_not_cancelled(cast, session):
    SessionRun.objects.filter(session=session).update(started_at=NOW)
    assert refused(InputError, lambda: cancel_session(session, cast.coach, "Ice", now=NOW)) == (
        "has_begun",
        "This session has begun. End it on its page instead.",
    )


@pytest.mark.parametrize("record", ["run", "attendance", "note", "none", "another's"])
def test_only_a_session_in_which_nothing_happened_is_removed(cast, term, session, record):
    (other,) = add(term, times(WEDNESDAY + DAY))
    if record == "run":
        make.AttemptFactory(team=cast.team_a, session=session)
    elif record == "attendance":
        Attendance.objects.create(session=session, member=cast.member_a, present=True)
    elif record == "note":
        QuickNote.objects.create(session=session, text="Belt", at=NOW, by=cast.coach)
    elif record == "another's":
        QuickNote.objects.create(session=other, text="Belt", at=NOW, by=cast.coach)
    act = lambda: remove_session(session, cast.coach, now=NOW)  # noqa: E731
    if record in ("run", "attendance", "note"):
        words = "This session has runs, attendance or notes. Cancel it instead."
        assert refused(InputError, act) == ("has_records", words)
        assert Session.objects.count() == 2
    else:
        heard = []
        assert tells_live_pages(lambda: heard.extend(noted_by(act, cast.club, NOW)), cast.club)
        assert heard == ["lead removed session (session that is gone)"] and list(Session.objects.all()) == [other]


# The feed
