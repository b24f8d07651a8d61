"""Today: what a coach sees and taps during a session."""

from __future__ import annotations

import datetime as dt

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext
from django.urls import reverse

from classroom.errors import ConflictError, InputError
from classroom.models import Attendance, AuditEntry, RobotAssignment, RobotLoan, ServiceNote
from classroom.robots.services.keep_robot import finish_service
from classroom.robots.services.keep_spare import SpareLine, add_spare
from missions.day.services.run_session import (
    mark_child,
    resume_session,
    set_pace,
    set_team_day,
    start_session,
    stop_session,
    write_note,
)
from missions.day.services.safety_cards import ensure_safety_cards
from missions.models import QuickNote, RotaTurn, SessionRun, TeamDay
from tests import factories as make
from tests.pages import page_of

NOW = make.NOW
MINUTE = dt.timedelta(minutes=1)
HTMX = {"HX-Request": "true"}


def turn(day, slot, team, table=0):
    return RotaTurn.objects.create(session=day.session, slot=slot, table=day.tables[table], team=team)


def test_today_opens_the_session_that_is_on_rather_than_a_later_one(day, at_ten_past):
    make.SessionFactory(term=day.session.term, starts_at=NOW + dt.timedelta(days=7))
    make.SessionFactory(term=day.session.term, starts_at=NOW - dt.timedelta(days=7))
    page = day.as_coach.get(reverse("today"))
    assert page.context["session"] == day.session


def test_today_skips_a_cancelled_session(day, at_ten_past):
    SessionRun.objects.update(cancelled_at=NOW)
    later = make.SessionFactory(term=day.session.term, starts_at=NOW + dt.timedelta(days=7))
    assert day.as_coach.get(reverse("today")).context["session"] == later


def test_without_any_session_today_says_how_to_plan_one(cast):
    page = cast.as_coach.get(reverse("today"))
    assert reverse("term") in page_of(page)


def test_the_page_says_who_is_at_a_table_now_who_is_next_and_what_to_lay_anew(day, at_ten_past):
    make.ProgressFactory(team=day.team_b, tier=day.editions[1].tier)
    RotaTurn.objects.create(session=day.session, slot=1, table=day.tables[0], team=day.team_a, layout="plain")
    RotaTurn.objects.create(session=day.session, slot=2, table=day.tables[0], team=day.team_b, layout="bank")
    page = day.as_coach.get(reverse("session", args=[day.session.pk]))
    table = page.context["tables"][0]
    assert table.now.turn.team == day.team_a
    assert table.next.turn.team == day.team_b
    assert table.next.relay
    assert table.next_starts == NOW + 20 * MINUTE
    assert not table.now.relay


@pytest.mark.parametrize("ended", [True, False])
def test_a_session_that_is_over_asks_nobody_to_plan_turns(day, at_ten_past, ended):
    SessionRun.objects.update(stopped_at=NOW + 9 * MINUTE if ended else None)
    at_ten_past.move_to(NOW + 10 * MINUTE if ended else day.session.ends_at + MINUTE)
    page = page_of(day.as_coach.get(reverse("session", args=[day.session.pk])))
    assert "No turns were planned." in page
    for words in ("Nobody has a turn yet", "at-tables", "Lend a robot for today", "gone through all of them today"):
        assert words not in page


def test_one_tap_marks_a_child_and_the_next_takes_it_back(day):
    url = reverse("attendance", args=[day.session.pk])
    day.as_coach.post(url, {"mark": f"{day.member_a.pk}:here"})
    assert Attendance.objects.get(member=day.member_a).present
    day.as_coach.post(url, {"mark": f"{day.member_a.pk}:away"})
    assert not Attendance.objects.get(member=day.member_a).present
    day.as_coach.post(url, {"mark": f"{day.member_a.pk}:open"})
    assert not Attendance.objects.filter(member=day.member_a).exists()


def test_all_of_a_team_are_marked_at_once(day):
    other = make.MembershipFactory(team=day.team_a).member
    day.as_coach.post(reverse("attendance", args=[day.session.pk]), {"team": day.team_a.pk})
    assert set(Attendance.objects.filter(present=True).values_list("member", flat=True)) == {day.member_a.pk, other.pk}


def test_marking_all_of_a_team_keeps_the_mark_that_another_coach_has_just_made(day):
    """Found by audit: on a page two seconds old, “All here” turned a child marked as away into one that is here."""
    other = make.MembershipFactory(team=day.team_a).member
    mark_child(day.session, other, False)
    day.as_coach.post(reverse("attendance", args=[day.session.pk]), {"team": day.team_a.pk})
    assert dict(Attendance.objects.values_list("member", "present")) == {day.member_a.pk: True, other.pk: False}


def test_a_child_of_another_club_cannot_be_marked(day):
    stranger = make.MembershipFactory().member
    answer = day.as_coach.post(reverse("attendance", args=[day.session.pk]), {"mark": f"{stranger.pk}:here"})
    assert answer.status_code == 404
    assert not Attendance.objects.exists()


def test_a_refused_change_is_said_in_the_live_part(day, at_ten_past):
    url = reverse("team_day", args=[day.session.pk, day.team_a.pk])
    answer = day.as_coach.post(url, {"late": "600"}, headers=HTMX)
    assert answer.status_code == 200
    assert "would come after the end" in page_of(answer)
    assert not TeamDay.objects.exists()


def test_without_script_a_change_leads_back_to_the_page(day, at_ten_past):
    url = reverse("team_day", args=[day.session.pk, day.team_a.pk])
    answer = day.as_coach.post(url, {"late": "15"})
    assert answer.url == reverse("session", args=[day.session.pk])
    assert TeamDay.objects.get().late_until == NOW + 25 * MINUTE


def test_a_team_that_comes_after_all_is_here_as_usual(day, at_ten_past):
    url = reverse("team_day", args=[day.session.pk, day.team_a.pk])
    day.as_coach.post(url, {"do": "away"})
    assert TeamDay.objects.get().away
    day.as_coach.post(url, {"do": "here"})
    assert not TeamDay.objects.get().away


def test_lateness_before_the_session_counts_from_its_start(day):
    late = set_team_day(day.session, day.team_a, late_minutes=20, now=NOW - 60 * MINUTE)
    assert late.late_until == NOW + 20 * MINUTE


def test_a_quiet_poll_costs_a_304_and_a_change_or_the_next_turn_a_new_part(day, at_ten_past):
    url = reverse("session", args=[day.session.pk])
    first = day.as_coach.get(url, headers=HTMX)
    tag = {"If-None-Match": first.headers["ETag"], **HTMX}
    with CaptureQueriesContext(connection) as quiet:
        assert day.as_coach.get(url, headers=tag).status_code == 304
    assert len(quiet) <= 5
    mark_child(day.session, day.member_a, True)
    changed = day.as_coach.get(url, headers=tag)
    assert changed.status_code == 200
    tag["If-None-Match"] = changed.headers["ETag"]
    assert day.as_coach.get(url, headers=tag).status_code == 304
    at_ten_past.move_to(NOW + 20 * MINUTE)
    assert day.as_coach.get(url, headers=tag).status_code == 200


def test_the_tag_on_the_page_is_that_of_its_live_part(day, at_ten_past):
    url = reverse("session", args=[day.session.pk])
    tag = day.as_coach.get(url).context["live_tag"]
    assert day.as_coach.get(url, headers={"If-None-Match": f'"{tag}"', **HTMX}).status_code == 304


def test_today_asks_the_database_no_more_with_more_teams_runs_and_robots(day, at_ten_past):
    def queries():
        with CaptureQueriesContext(connection) as seen:
            assert day.as_coach.get(reverse("session", args=[day.session.pk])).status_code == 200
        return len(seen)

    turn(day, 1, day.team_a)
    ServiceNote.objects.create(robot=day.robot_a, kind="battery", text="charge", on=NOW.date(), due_on=NOW.date())
    ensure_safety_cards(day.club)
    before = queries()
    for n in range(8):
        team = make.TeamFactory(club=day.club, name=f"Wader {n}")
        robot = make.RobotFactory(club=day.club)
        make.MembershipFactory(team=team)
        RobotAssignment.objects.create(robot=robot, team=team, from_on=NOW.date())
        ServiceNote.objects.create(robot=robot, kind="battery", text="charge", on=NOW.date(), due_on=NOW.date())
        make.ProgressFactory(team=team, tier=day.editions[n % 3].tier)
        make.AttemptFactory(team=team, tier_version=day.editions[0], session=day.session)
        turn(day, n, team, 1)
        write_note(day.session, day.coach, "Belt replaced.", team, now=NOW)
    assert queries() == before
    assert before <= 26


def test_an_observer_sees_today_and_has_nothing_to_tap(day, at_ten_past):
    turn(day, 1, day.team_a)
    page = page_of(day.as_observer.get(reverse("session", args=[day.session.pk])))
    assert "Curlew" in page and "Robin" in page
    assert page.count('<form method="post"') == 1, "only the way out"


def test_a_robot_is_lent_for_the_day_and_taken_back(day, at_ten_past):
    url = reverse("robot_lend", args=[day.session.pk])
    day.as_coach.post(url, {"team": day.team_b.pk, "robot": day.robot_a.pk})
    (found,) = day.as_coach.get(reverse("session", args=[day.session.pk])).context["robots"]
    assert found.teams == ("Curlew", "Plover")
    day.as_coach.post(url, {"team": day.team_b.pk, "robot": ""})
    assert not RobotLoan.objects.exists()


# Start and stop


def test_started_late_the_slots_are_counted_from_the_start_and_turns_that_no_longer_fit_go(day):
    for slot in range(9):
        turn(day, slot, day.team_a)
    run = start_session(day.session, now=NOW + 25 * MINUTE)
    assert run.clock_from == NOW + 25 * MINUTE
    assert RotaTurn.objects.count() == 6


def test_a_start_that_nobody_pressed_can_be_entered_as_planned(day):
    turn(day, 8, day.team_a)
    assert start_session(day.session, now=NOW + 25 * MINUTE, as_planned=True).clock_from == NOW
    assert RotaTurn.objects.count() == 1


def test_stopping_takes_off_the_turns_that_had_not_begun(day):
    for slot in range(9):
        turn(day, slot, day.team_a)
    start_session(day.session, now=NOW)
    stop_session(day.session, now=NOW + 42 * MINUTE)
    assert sorted(RotaTurn.objects.values_list("slot", flat=True)) == [0, 1, 2, 3, 4]
    assert RotaTurn.objects.minutes_before(
        make.SessionFactory(term=day.session.term, starts_at=NOW + dt.timedelta(7))
    ) == {day.team_a.pk: 50}


@pytest.mark.parametrize("what", ["start twice", "stop first", "start too late", "resume first"])
def test_the_buttons_refuse_what_makes_no_sense(day, what):
    if what == "start twice":
        start_session(day.session, now=NOW)
        with pytest.raises(ConflictError, match="started already"):
            start_session(day.session, now=NOW + MINUTE)
    elif what == "stop first":
        with pytest.raises(InputError, match="not been started"):
            stop_session(day.session, now=NOW)
    elif what == "start too late":
        with pytest.raises(InputError, match="time is over"):
            start_session(day.session, now=NOW + 95 * MINUTE)
    else:
        with pytest.raises(ConflictError, match="running already"):
            resume_session(day.session, now=NOW)


def test_a_stop_that_was_a_slip_is_taken_back(day):
    start_session(day.session, now=NOW)
    stop_session(day.session, now=NOW + 5 * MINUTE)
    assert resume_session(day.session, now=NOW + 6 * MINUTE).stopped_at is None


def test_the_length_of_a_turn_changes_only_before_turns_have_been_played(day):
    turn(day, 3, day.team_a)
    set_pace(day.session, minutes=15, needs_first=False, now=NOW - MINUTE)
    assert not RotaTurn.objects.exists(), "turns by the old clock are planned anew"
    turn(day, 3, day.team_a)
    start_session(day.session, now=NOW)
    with pytest.raises(ConflictError):
        set_pace(day.session, minutes=10, needs_first=False, now=NOW + MINUTE)
    set_pace(day.session, minutes=15, needs_first=True, now=NOW + MINUTE)
    with pytest.raises(InputError):
        set_pace(day.session, minutes=0, needs_first=True, now=NOW)


# Notes, robots, cautions


def test_a_note_is_kept_with_its_time_and_team(day, at_ten_past):
    day.as_assistant.post(
        reverse("session_note", args=[day.session.pk]), {"text": " hinge  loose ", "team": day.team_a.pk}
    )
    note = QuickNote.objects.get()
    assert (note.text, note.team, note.by, note.at) == ("hinge loose", day.team_a, day.assistant, NOW + 10 * MINUTE)


@pytest.mark.parametrize("text", ["", "   ", "x" * 301])
def test_an_empty_or_endless_note_is_refused(day, text):
    with pytest.raises(InputError):
        write_note(day.session, day.coach, text, None, now=NOW)


def test_a_note_that_should_not_stand_there_is_taken_back_by_who_wrote_it_or_a_lead(day, at_ten_past):
    """Found by audit: a note that named a child by mistake could not be taken off by anybody in the club."""
    url = reverse("session_note", args=[day.session.pk])
    mine, theirs = (write_note(day.session, who, "x", None, now=NOW) for who in (day.assistant, day.coach))
    page = page_of(day.as_assistant.get(reverse("session", args=[day.session.pk])))
    assert f'name="back" value="{mine.pk}"' in page and f'name="back" value="{theirs.pk}"' not in page
    refused = day.as_assistant.post(url, {"back": theirs.pk}, headers=HTMX)
    assert "Who wrote a note, or a lead coach" in page_of(refused)
    day.as_assistant.post(url, {"back": mine.pk})
    assert list(QuickNote.objects.all()) == [theirs]
    assert AuditEntry.objects.filter(verb="took back note").count() == 1
    day.as_coach.post(url, {"back": theirs.pk})
    assert not QuickNote.objects.exists()
    assert "is gone already" in page_of(day.as_coach.post(url, {"back": theirs.pk}, headers=HTMX))


def test_a_battery_that_is_due_shows_until_it_is_done(day, at_ten_past):
    note = ServiceNote.objects.create(
        robot=day.robot_a, kind="battery", text="charge the pack", on=NOW.date(), due_on=NOW.date()
    )
    url = reverse("session", args=[day.session.pk])
    assert [robot.due for robot in day.as_coach.get(url).context["robots"]] == [(note,)]
    finish_service(note, day.coach, now=NOW)
    assert [robot.due for robot in day.as_coach.get(url).context["robots"]] == [()]


def test_the_robot_that_wants_something_today_stands_first_then_what_comes(day, at_ten_past):
    coming, plain, due = (make.RobotFactory(club=day.club, name=f"Kit {n}") for n in (2, 3, 4))
    for robot, days in ((due, 0), (coming, 9)):
        ServiceNote.objects.create(
            robot=robot, kind="battery", text="charge", on=NOW.date(), due_on=NOW.date() + dt.timedelta(days=days)
        )
    page = day.as_coach.get(reverse("session", args=[day.session.pk]))
    shown = [robot.robot for robot in page.context["robots_first"]]
    assert shown[:2] == [due, coming] and set(shown[2:]) == {plain, day.robot_a}


def test_spares_that_run_low_and_a_service_that_takes_too_many_are_said_on_the_page(day, at_ten_past):
    tyre = add_spare(day.club, day.coach, SpareLine("Tyre", 1, 4), now=NOW)
    note = ServiceNote.objects.create(
        robot=day.robot_a, kind="part", text="new tyres", on=NOW, due_on=NOW, spare=tyre, spare_count=2
    )
    page = page_of(day.as_coach.get(reverse("session", args=[day.session.pk])))
    assert "Tyre (3)" in page
    answer = day.as_coach.post(reverse("service_done", args=[day.session.pk, note.pk]), headers=HTMX)
    assert "the list has 1 and this takes 2" in page_of(answer)
    note.refresh_from_db()
    assert note.done_on is None


def test_planning_from_the_page_fills_the_tables(day, at_ten_past):
    answer = day.as_coach.post(reverse("rota_solve", args=[day.session.pk]), {"from": "today"}, headers=HTMX)
    assert "The rota is planned." in page_of(answer)
    assert RotaTurn.objects.filter(session=day.session).exists()


def test_planning_without_tables_says_what_to_do(day, at_ten_past):
    for table in day.tables:
        table.delete()
    answer = day.as_coach.post(reverse("rota_solve", args=[day.session.pk]), follow=True)
    assert "There is no table to share out" in page_of(answer)


@pytest.mark.parametrize(
    "body", [{}, {"do": "place", "slot": "x", "table": "1"}, {"do": "move", "turn": "99999999999"}]
)
def test_a_form_sent_with_nonsense_changes_nothing(day, body):
    assert day.as_coach.post(reverse("rota_move", args=[day.session.pk]), body).status_code == 404
    assert not RotaTurn.objects.exists()


def test_the_rota_page_offers_the_place_that_was_chosen(day, at_ten_past):
    made = turn(day, 3, day.team_a)
    url = reverse("rota", args=[day.session.pk])
    page = day.as_coach.get(url, {"slot": 3, "table": day.tables[0].pk})
    assert page.context["place"].turn == made
    assert day.as_coach.get(url, {"slot": "x", "table": "-1"}).context["place"] is None


@pytest.mark.parametrize("rubbish", ["\u00b2", "9" * 5000, "9" * 19, "-1", "x"])
def test_a_number_that_names_nothing_is_answered_in_words(day, rubbish):
    pk, client = day.session.pk, day.as_coach
    told = [
        client.post(reverse("attendance", args=[pk]), {"mark": f"{rubbish}:here"}),
        client.post(reverse("attendance", args=[pk]), {"team": rubbish}),
        client.post(reverse("robot_lend", args=[pk]), {"team": rubbish}),
        client.post(reverse("robot_lend", args=[pk]), {"team": day.team_a.pk, "robot": rubbish}),
        client.post(reverse("session_note", args=[pk]), {"team": rubbish, "text": "Hello"}),
    ]
    assert {answer.status_code for answer in told} == {404}
    looks = [client.get(reverse("rota", args=[pk]), {"slot": rubbish, "table": rubbish})]
    looks += [client.post(reverse("team_day", args=[pk, day.team_a.pk]), {"late": rubbish}, follow=True)]
    assert {answer.status_code for answer in looks} == {200}
    assert not Attendance.objects.exists() and not QuickNote.objects.exists()


def test_a_note_keeps_no_character_that_a_database_refuses(day):
    day.as_coach.post(reverse("session_note", args=[day.session.pk]), {"text": "Wheel\x00 loose"})
    assert QuickNote.objects.get().text == "Wheel loose"


def test_what_a_rota_reached_and_what_is_not_proven_about_it_is_shown(day, at_ten_past):
    goals = [
        {"name": "empty", "value": 0, "bound": 0},
        {"name": "relayings", "value": 5, "bound": 3},
        {"name": "back_to_back", "value": 2, "bound": 2},
    ]
    SessionRun.objects.update(solved_at=NOW, goals=goals)
    turn(day, 3, day.team_a)
    for name in ("session", "rota"):
        page = page_of(day.as_observer.get(reverse(name, args=[day.session.pk])))
        assert "No place is empty." in page
        assert "Tables are laid anew 5 times (at least 3 by proof)." in page
        assert "2 turns follow another of the same team, the fewest there can be." in page
