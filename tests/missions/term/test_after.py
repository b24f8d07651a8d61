"""After the session: one page of what it left, and the next week's proposal taken over once."""

from __future__ import annotations

import datetime as dt

import pytest
import time_machine
from django.urls import reverse
from django.utils import timezone

from classroom.models import Attendance, RobotState, Team
from missions.day.services.run_session import LONGEST_NOTE
from missions.ladder.rules.table_fit import TableShape
from missions.models import PlannedMission, Progress, QuickNote
from missions.readiness.services.evidence import refresh_evidence
from missions.term.pages.after import NextProposal
from missions.term.rules.proposal import TeamNext, TierChoice
from missions.term.services.take_over import take_over
from tests import factories as make
from tests.pages import page_of

CLEAN = "111111111111"


@pytest.fixture
def after(day):
    """The session is over; Curlew has shown its tier over two dates, Plover goes wrong the same way each time."""
    day.later = make.SessionFactory(
        term=day.session.term,
        starts_at=make.NOW + dt.timedelta(weeks=1),
        ends_at=make.NOW + dt.timedelta(weeks=1, hours=1),
    )
    for team, marks in ((day.team_a, CLEAN), (day.team_b, "00000000")):
        progress = make.ProgressFactory(team=team, tier=day.editions[0].tier)
        for i, mark in enumerate(marks):
            week = 1 if i < len(marks) // 2 else 0
            make.AttemptFactory(
                team=team,
                tier_version=day.editions[0],
                session=None if week else day.session,
                robot=day.robot_a if team == day.team_a else None,
                made_at=make.NOW - dt.timedelta(weeks=week) + dt.timedelta(minutes=i),
                success=mark == "1",
                cause="" if mark == "1" or i == 4 else "turned_too_far",
            )
        refresh_evidence(progress, make.NOW + dt.timedelta(hours=1))
    Attendance.objects.create(session=day.session, member=day.member_b, present=False)
    day.robot_b = make.RobotFactory(club=day.club, name="Kit 9", state=RobotState.IN_REPAIR)
    with time_machine.travel(make.NOW + dt.timedelta(hours=2), tick=False):
        yield day


def page(cast, client=None) -> str:
    response = (client or cast.as_coach).get(reverse("session_after", args=[cast.session.pk]))
    assert response.status_code == 200
    return page_of(response)


def test_the_page_says_who_was_not_here_what_was_reached_and_what_wants_care(after) -> None:
    said = page(after)
    for words in (
        "6 of 6 runs clean",
        "0 of 4 runs clean",
        "Linnet",
        "Kit 1",
        "Kit 9",
        "1 not clean, no first cause said",
    ):
        assert words in said, words
    assert "Ready for a harder one" in said and "Open 2 With obstacle" in said
    assert "Sit down together" in said


def test_it_is_taken_over_once(after) -> None:
    QuickNote.objects.all().delete()
    bank = after.editions[1].tier
    send = {"missions": [after.mission.pk], "opens": [after.team_a.pk], "with_coach": [after.team_b.pk]}
    told = page_of(after.as_coach.post(reverse("session_take_over", args=[after.session.pk]), send, follow=True))
    assert "Taken over: 1 mission planned, 1 tier opened, 1 note left." in told
    assert PlannedMission.objects.filter(session=after.later, mission=after.mission).count() == 1
    assert Progress.objects.get(team=after.team_a, tier=bank).state == "working"
    assert Progress.objects.get(team=after.team_a, tier=after.editions[0].tier).state == "passed"
    assert QuickNote.objects.get().session == after.later
    again = page_of(after.as_coach.post(reverse("session_take_over", args=[after.session.pk]), send, follow=True))
    assert "All of it was taken over already." in again
    assert QuickNote.objects.count() == 1


def proposal(after, *lines) -> NextProposal:
    return NextProposal(after.later, lines, (), (after.mission,), ())


def together(after, reason: str) -> TeamNext:
    tier = TierChoice(after.mission.pk, after.editions[0].tier.pk, "Tide gate", "1 Plain route", TableShape(2400, 1200))
    return TeamNext(after.team_b.pk, "Plover", tier, reason, with_coach=True)


def taken_over(after, *lines) -> str:
    chosen = {"missions": [after.mission.pk], "opens": [], "with_coach": [after.team_b.pk]}
    return take_over(proposal(after, *lines), after.coach, **chosen, now=make.NOW).words


def test_what_stands_in_another_session_or_for_another_team_is_not_taken_for_this_ones(after) -> None:
    line = together(after, "It turns too far.")
    text = "Sit down together: It turns too far."
    PlannedMission.objects.create(session=after.session, mission=after.mission)
    QuickNote.objects.create(session=after.session, team=after.team_b, text=text, at=make.NOW)
    QuickNote.objects.create(session=after.later, team=after.team_a, text=text, at=make.NOW)
    assert taken_over(after, line) == "Taken over: 1 mission planned, 1 note left."
    assert QuickNote.objects.filter(session=after.later, team=after.team_b, text=text).count() == 1
    assert taken_over(after, line) == "All of it was taken over already."
    assert taken_over(after, together(after, "It stops short.")) == "Taken over: 1 note left."


def test_a_long_reason_is_cut_and_still_noted_once(after) -> None:
    for cut in range(6):
        QuickNote.objects.all().delete()
        letters = LONGEST_NOTE - len("Sit down together: ") - cut
        line = together(after, "x" * letters + " and so on, for a good while longer than a note may be")
        assert "1 note left" in taken_over(after, line)
        assert len(QuickNote.objects.get().text) <= LONGEST_NOTE
        assert "note" not in taken_over(after, line), "doing it twice is doing it once"


def test_a_coach_takes_nothing_over_for_another_clubs_team(after) -> None:
    with pytest.raises(Team.DoesNotExist):
        take_over(
            proposal(after, together(after, "It turns too far.")),
            after.other_coach,
            missions=[],
            opens=[],
            with_coach=[after.team_b.pk],
            now=make.NOW,
        )
    assert not QuickNote.objects.exists()


def test_what_is_unticked_or_was_never_proposed_is_left_alone(after) -> None:
    other = make.mission_with_tiers(after.club)[0]
    send = {"missions": [other.pk], "opens": [after.team_b.pk], "with_coach": [after.team_a.pk]}
    after.as_coach.post(reverse("session_take_over", args=[after.session.pk]), send)
    assert not PlannedMission.objects.filter(session=after.later).exists()
    assert Progress.objects.count() == 2 and not QuickNote.objects.exists()


def test_without_a_next_session_it_is_read_and_not_taken_over(after) -> None:
    after.later.delete()
    assert "No session is planned after this one." in page(after)
    told = after.as_coach.post(reverse("session_take_over", args=[after.session.pk]), {}, follow=True)
    assert "Add one to the term first." in page_of(told)


def test_an_observer_reads_it_and_is_offered_nothing(after) -> None:
    assert "Take it over" not in page(after, after.as_observer)


def test_the_page_asks_the_same_whatever_it_holds(after, django_assert_num_queries) -> None:
    with django_assert_num_queries(30):
        page(after)
    for n in range(5):
        team = make.TeamFactory(club=after.club, order=5 + n)
        make.ProgressFactory(team=team, tier=after.editions[0].tier)
        make.AttemptFactory(team=team, tier_version=after.editions[0], session=after.session, made_at=timezone.now())
    with django_assert_num_queries(30):
        page(after)


def test_the_term_page_says_where_each_team_would_end_or_that_it_is_too_early(after) -> None:
    early = make.SessionFactory(
        term=after.session.term,
        starts_at=make.NOW - dt.timedelta(weeks=1),
        ends_at=make.NOW - dt.timedelta(days=6, hours=23),
    )
    after.team_a.attempts.filter(session=None).update(session=early)
    said = page_of(after.as_coach.get(reverse("term_of", args=[after.session.term_id])))
    assert "At the term's end, at this pace" in said
    assert "between 2 With obstacle and" in said or "on 2 With obstacle" in said or "on 3 Timed" in said
    assert "of 200 pretend terms end there" in said
    assert "Too early to say" in said, "Plover has no session of its own yet but this one"
