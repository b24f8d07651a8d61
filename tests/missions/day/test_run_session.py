"""What a coach taps during a session, to the row, the minute and the sentence."""

from __future__ import annotations

import datetime as dt

import pytest

from classroom.errors import ConflictError, InputError, NotAllowedError
from classroom.models import Attendance, RobotLoan
from missions.day.services.run_session import (
    lend_robot,
    mark_child,
    mark_team,
    pace_mark,
    resume_session,
    set_pace,
    set_team_day,
    start_session,
    stop_session,
    take_back_note,
    write_note,
)
from missions.models import QuickNote, RotaTurn, SessionRun, TeamDay
from tests import factories as make
from tests.log import noted_by, tells_live_pages

NOW = make.NOW
MINUTE = dt.timedelta(minutes=1)


@pytest.fixture
def elsewhere(day):
    """Another session of the term with a turn, a run, a mark and a note of its own, which nothing here may touch."""
    other = make.SessionFactory(term=day.session.term, starts_at=NOW - dt.timedelta(days=7))
    for slot in (0, 5, 8):
        RotaTurn.objects.create(session=other, slot=slot, table=day.tables[0], team=day.team_a)
    return other


def refused(error, act):
    with pytest.raises(error) as raised:
        act()
    return raised.value.code, raised.value.message


def fill(day, slots=9):
    for slot in range(slots):
        RotaTurn.objects.create(session=day.session, slot=slot, table=day.tables[0], team=day.team_a)


def slots(session):
    return list(RotaTurn.objects.filter(session=session).order_by("slot").values_list("slot", flat=True))


def run_of(day):
    return SessionRun.objects.get(session=day.session)


# Start and stop


@pytest.mark.parametrize(
    ("now", "as_planned", "started", "turns"),
    [
        (NOW - 5 * MINUTE, False, NOW - 5 * MINUTE, 9),
        (NOW + 25 * MINUTE, False, NOW + 25 * MINUTE, 6),
        (NOW + 25 * MINUTE, True, NOW, 9),
        (NOW - 5 * MINUTE, True, NOW - 5 * MINUTE, 9),
        (NOW + 89 * MINUTE, False, NOW + 89 * MINUTE, 0),
    ],
)
def test_a_session_starts_now_or_as_planned(day, elsewhere, now, as_planned, started, turns):
    fill(day)
    start_session(day.session, now=now, as_planned=as_planned)
    assert run_of(day).started_at == started
    assert slots(day.session) == list(range(turns)) and slots(elsewhere) == [0, 5, 8]


CANCELLED = "session_cancelled", "This session is cancelled. Bring it back on the Term page first."
ENDED = "session_over", "This session has ended. Its rota is kept as it was."


@pytest.mark.parametrize(
    ("run", "now", "error", "said"),
    [
        ({"started_at": NOW}, NOW, ConflictError, ("already_started", "This session has been started already.")),
        ({"cancelled_at": NOW}, NOW, InputError, CANCELLED),
        ({"started_at": NOW, "stopped_at": NOW}, NOW, InputError, ENDED),
        (
            {},
            NOW + 90 * MINUTE,
            InputError,
            ("past_its_end", "This session's time is over. Change its times on the Term page first."),
        ),
    ],
)
def test_a_session_that_cannot_start_says_why(day, run, now, error, said):
    SessionRun.objects.create(session=day.session, changed_at=NOW, **run)
    assert refused(error, lambda: start_session(day.session, now=now)) == said


@pytest.mark.parametrize(
    ("minutes", "left"), [(0, [0]), (9, [0]), (10, [0, 1]), (25, [0, 1, 2]), (200, list(range(9)))]
)
def test_stopping_keeps_the_turns_that_had_begun(day, elsewhere, minutes, left):
    start_session(day.session, now=NOW)
    fill(day)
    stop_session(day.session, now=NOW + minutes * MINUTE)
    assert slots(day.session) == left and slots(elsewhere) == [0, 5, 8]
    assert run_of(day).stopped_at == NOW + minutes * MINUTE


def test_a_session_never_stops_before_it_started(day):
    start_session(day.session, now=NOW + 5 * MINUTE)
    stop_session(day.session, now=NOW)
    assert run_of(day).stopped_at == NOW + 5 * MINUTE


def test_what_did_not_start_does_not_stop_and_what_did_not_stop_does_not_go_on(day):
    not_started = "not_started", "This session has not been started yet."
    assert refused(InputError, lambda: stop_session(day.session, now=NOW)) == not_started
    start_session(day.session, now=NOW)
    running = "not_stopped", "This session is running already."
    assert refused(ConflictError, lambda: resume_session(day.session, now=NOW)) == running
    stop_session(day.session, now=NOW)
    assert refused(InputError, lambda: stop_session(day.session, now=NOW)) == ENDED
    resume_session(day.session, now=NOW)
    assert (run_of(day).started_at, run_of(day).stopped_at) == (NOW, None)


# The pace


@pytest.mark.parametrize("minutes", [3, 60])
def test_a_turn_is_three_to_sixty_minutes(day, elsewhere, minutes):
    fill(day)
    set_pace(day.session, minutes=minutes, needs_first=True, now=NOW - MINUTE)
    assert (run_of(day).slot_minutes, run_of(day).needs_first) == (minutes, True)
    assert slots(day.session) == [] and slots(elsewhere) == [0, 5, 8]


@pytest.mark.parametrize("minutes", [2, 61])
def test_shorter_and_longer_turns_are_refused(day, minutes):
    assert refused(InputError, lambda: set_pace(day.session, minutes=minutes, needs_first=True, now=NOW)) == (
        "slot_length",
        "A turn at a table is 3 to 60 minutes. Type a number between.",
    )


def test_whom_comes_first_may_change_while_turns_are_played_and_how_long_they_are_may_not(day):
    start_session(day.session, now=NOW)
    fill(day)
    set_pace(day.session, minutes=10, needs_first=False, now=NOW)
    assert run_of(day).needs_first is False and len(slots(day.session)) == 9
    assert refused(ConflictError, lambda: set_pace(day.session, minutes=12, needs_first=True, now=NOW)) == (
        "pace_is_set",
        "Turns have been played by this clock. Keep it until the session is over.",
    )
    RotaTurn.objects.all().delete()
    set_pace(day.session, minutes=12, needs_first=True, now=NOW)
    assert run_of(day).slot_minutes == 12


def test_turns_of_another_session_do_not_hold_the_pace(day, elsewhere):
    set_pace(day.session, minutes=12, needs_first=True, now=NOW)
    assert run_of(day).slot_minutes == 12


def test_a_pace_that_somebody_changed_meanwhile_is_chosen_again(day):
    set_pace(day.session, minutes=10, needs_first=False, now=NOW)
    seen = pace_mark(run_of(day))
    set_pace(day.session, minutes=10, needs_first=True, now=NOW)
    assert pace_mark(run_of(day)) != seen
    assert refused(ConflictError, lambda: set_pace(day.session, minutes=9, needs_first=True, seen=seen, now=NOW)) == (
        "changed_meanwhile",
        "Somebody changed this while you had it open. Here is how it stands now: choose again.",
    )
    set_pace(day.session, minutes=9, needs_first=True, seen=pace_mark(run_of(day)), now=NOW)


# Who is here


def marks(session):
    return dict(Attendance.objects.filter(session=session).values_list("member__nickname", "present"))


def test_a_mark_is_of_one_child_in_one_session(day, elsewhere):
    mark_child(elsewhere, day.member_a, False)
    mark_child(day.session, day.member_b, False)
    mark_child(day.session, day.member_a, True)
    mark_child(day.session, day.member_a, False)
    assert marks(day.session) == {"Linnet": False, "Robin": False}
    mark_child(day.session, day.member_a, None)
    assert marks(day.session) == {"Linnet": False} and marks(elsewhere) == {"Robin": False}


@pytest.mark.parametrize("present", [True, False])
def test_marking_a_team_marks_whom_nobody_has_marked_and_takes_back_late_and_away(day, elsewhere, present):
    other = make.MembershipFactory(team=day.team_a, member__nickname="Wigeon").member
    mark_child(day.session, other, not present)
    for session, team in [(day.session, day.team_a), (day.session, day.team_b), (elsewhere, day.team_a)]:
        TeamDay.objects.create(session=session, team=team, away=True, late_until=NOW)
    mark_team(day.session, day.team_a, present, [day.member_a, other])
    assert marks(day.session) == {"Robin": present, "Wigeon": not present}
    rows = TeamDay.objects.order_by("pk").values_list("away", "late_until")
    assert list(rows) == [(False, None), (True, NOW), (True, NOW)]


@pytest.mark.parametrize(
    ("asked", "now", "stands"),
    [
        ({"away": True}, NOW, (True, None)),
        ({"away": True, "late_minutes": 10}, NOW, (True, None)),
        ({"late_minutes": 10}, NOW - 30 * MINUTE, (False, NOW + 10 * MINUTE)),
        ({"late_minutes": 10}, NOW + 30 * MINUTE, (False, NOW + 40 * MINUTE)),
        ({"late_minutes": 89}, NOW, (False, NOW + 89 * MINUTE)),
        ({"late_minutes": 1}, NOW, (False, NOW + MINUTE)),
        ({"late_minutes": 0}, NOW, (False, None)),
        ({}, NOW, (False, None)),
    ],
)
def test_a_team_is_away_late_or_here(day, asked, now, stands):
    TeamDay.objects.create(session=day.session, team=day.team_a, away=True, late_until=NOW)
    made = set_team_day(day.session, day.team_a, now=now, **asked)
    assert (made.session, made.team, made.away, made.late_until) == (day.session, day.team_a, *stands)
    assert TeamDay.objects.get() == made


def test_a_team_that_would_come_at_the_end_is_marked_as_away_instead(day):
    assert refused(InputError, lambda: set_team_day(day.session, day.team_a, late_minutes=90, now=NOW)) == (
        "too_late",
        "Curlew would come after the end. Mark the team as away instead.",
    )


# Lent robots


def test_a_robot_is_lent_to_one_team_in_one_session_and_taken_back_there(day, elsewhere):
    second = make.RobotFactory(club=day.club)
    lend_robot(elsewhere, day.team_b, day.robot_a)
    lend_robot(day.session, day.team_a, second)
    lend_robot(day.session, day.team_b, day.robot_a)
    lend_robot(day.session, day.team_b, second)
    loans = RobotLoan.objects.order_by("pk").values_list("session", "team", "robot")
    assert list(loans)[1:] == [(day.session.pk, t.pk, second.pk) for t in (day.team_a, day.team_b)]
    lend_robot(day.session, day.team_b, None)
    assert (
        RobotLoan.objects.count() == 2 and not RobotLoan.objects.filter(session=day.session, team=day.team_b).exists()
    )


@pytest.mark.parametrize("state", ["in_repair", "resting"])
def test_a_robot_that_is_not_in_service_is_not_lent(day, state):
    day.robot_a.state = state
    assert refused(InputError, lambda: lend_robot(day.session, day.team_b, day.robot_a)) == (
        "robot_not_at_hand",
        "Kit 1 is not in service. Choose another robot.",
    )


# Notes


def test_a_note_is_one_line_with_its_team_its_writer_and_its_moment(day):
    write_note(day.session, day.assistant, " Belt \n replaced. ", day.team_a, now=NOW)
    note = QuickNote.objects.get()
    assert (note.session, note.team, note.text) == (day.session, day.team_a, "Belt replaced.")
    assert (note.at, note.by) == (NOW, day.assistant)


def test_a_note_has_words_and_three_hundred_characters_at_most(day):
    assert refused(InputError, lambda: write_note(day.session, day.coach, " \n", None, now=NOW)) == (
        "empty_note",
        "Write a few words first.",
    )
    assert refused(InputError, lambda: write_note(day.session, day.coach, "x" * 301, None, now=NOW)) == (
        "long_note",
        "Keep a note to 300 characters; split it in two.",
    )
    assert write_note(day.session, day.coach, "x" * 300, None, now=NOW).team is None


@pytest.mark.parametrize("taker", ["assistant", "coach"])
def test_who_wrote_a_note_or_a_lead_takes_it_back(day, taker):
    note = write_note(day.session, day.assistant, "Belt", None, now=NOW)
    kept = write_note(day.session, day.assistant, "Tyre", None, now=NOW)
    coach = getattr(day, taker)
    assert noted_by(lambda: take_back_note(day.session, coach, note.pk, now=NOW), day.club, NOW) == [
        f"{coach.role} took back note (session {day.session})"
    ]
    assert list(QuickNote.objects.all()) == [kept]


def test_another_coachs_note_stays_and_so_does_one_of_another_session(day, elsewhere):
    note = write_note(day.session, day.coach, "Belt", None, now=NOW)
    assert refused(NotAllowedError, lambda: take_back_note(day.session, day.assistant, note.pk, now=NOW)) == (
        "not_yours",
        "Who wrote a note, or a lead coach, takes it back. Ask one of them.",
    )
    gone = "note_gone", "That note is gone already."
    assert refused(ConflictError, lambda: take_back_note(elsewhere, day.coach, note.pk, now=NOW)) == gone
    assert refused(ConflictError, lambda: take_back_note(day.session, day.coach, note.pk + 1, now=NOW)) == gone
    assert QuickNote.objects.get() == note


# What live pages hear


ACTS = {
    "start": lambda d: start_session(d.session, now=NOW),
    "pace": lambda d: set_pace(d.session, minutes=12, needs_first=True, now=NOW),
    "child": lambda d: mark_child(d.session, d.member_a, True),
    "no mark": lambda d: mark_child(d.session, d.member_a, None),
    "team": lambda d: mark_team(d.session, d.team_a, True, [d.member_a]),
    "team day": lambda d: set_team_day(d.session, d.team_a, now=NOW),
    "loan": lambda d: lend_robot(d.session, d.team_b, d.robot_a),
    "note": lambda d: write_note(d.session, d.coach, "Belt", None, now=NOW),
}


@pytest.mark.parametrize("what", ACTS)
def test_live_pages_hear_of_all_of_it(day, what):
    assert tells_live_pages(lambda: ACTS[what](day), day.club)


def test_live_pages_hear_of_a_stop_of_going_on_and_of_a_note_taken_back(day):
    start_session(day.session, now=NOW)
    note = write_note(day.session, day.coach, "Belt", None, now=NOW)
    assert tells_live_pages(lambda: stop_session(day.session, now=NOW), day.club)
    assert tells_live_pages(lambda: resume_session(day.session, now=NOW), day.club)
    assert tells_live_pages(lambda: take_back_note(day.session, day.coach, note.pk, now=NOW), day.club)
