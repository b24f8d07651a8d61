"""What a service refuses is said, in its own sentence, on the page where it was asked for; nothing is changed."""

from __future__ import annotations

import datetime as dt
from typing import Any

import pytest
from django.urls import reverse

from classroom.models import Attendance, Invitation, Session, Spare, Team, Term
from missions.models import CalendarFeed, Mission, SessionRun
from tests import factories as make
from tests.pages import page_of

pytestmark = pytest.mark.django_db


def said(client: Any, page: str, /, *args: Any, **typed: Any) -> str:
    """What the coach reads after sending this."""
    return page_of(client.post(reverse(page, args=args), typed, follow=True))


@pytest.fixture
def session(cast):
    term = make.TermFactory(club=cast.club)
    first = make.SessionFactory(term=term, starts_at=make.NOW + dt.timedelta(days=1))
    make.SessionFactory(term=term, starts_at=make.NOW + dt.timedelta(days=8))
    return first


def at(session: Session, **changed: Any) -> dict[str, Any]:
    typed = {"day": session.starts_at.date(), "starts": "14:00", "ends": "15:30", "place": ""}
    return typed | changed


def test_inviting_who_is_there_already(cast):
    page = said(cast.as_coach, "coaches", email=cast.assistant.user.email, role="assistant")
    assert "This coach is in the club already; change the role in the list." in page
    assert not Invitation.objects.exists()


def test_giving_away_a_robot_that_is_in_repair(cast):
    robot = make.RobotFactory(club=cast.club, name="Kit 9", state="in_repair")
    page = said(cast.as_coach, "robot_assign", robot.pk, team=cast.team_a.pk)
    assert "is in repair; put it back in service first." in page and not robot.assignments.exists()


def test_finishing_a_note_that_takes_more_than_lies_there(cast):
    spare = Spare.objects.create(club=cast.club, name="Tyre", on_hand=1, least=0)
    note = cast.robot_a.service_notes.create(kind="other", text="New tyres", on=make.NOW, spare=spare, spare_count=2)
    page = said(cast.as_coach, "service_note_done", note.pk)
    assert "Tyre: the list has 1 and this takes 2." in page
    note.refresh_from_db()
    assert note.done_on is None


def test_taking_a_spare_off_the_list_that_an_open_note_takes(cast):
    spare = Spare.objects.create(club=cast.club, name="Tyre", on_hand=5, least=0)
    cast.robot_a.service_notes.create(kind="other", text="New tyres", on=make.NOW, spare=spare, spare_count=2)
    assert "Finish that note first." in said(cast.as_coach, "spare_retire", spare.pk)
    spare.refresh_from_db()
    assert spare.retired_at is None


def test_naming_a_spare_like_another(cast):
    Spare.objects.create(club=cast.club, name="Tyre", on_hand=5, least=0)
    axle = Spare.objects.create(club=cast.club, name="Axle", on_hand=1, least=0)
    seen = cast.as_coach.get(reverse("spare", args=[axle.pk])).context["seen"]
    page = said(cast.as_coach, "spare", axle.pk, name="Tyre", on_hand="1", least="0", seen=seen)
    assert "is on the list already; change that line." in page
    axle.refresh_from_db()
    assert axle.name == "Axle"


def test_bringing_back_a_team_whose_name_has_gone_to_another(cast):
    old = make.TeamFactory(club=cast.club, name=cast.team_a.name, archived_at=make.NOW)
    assert "A newer team has this name; rename that one first." in said(cast.as_coach, "team_reopen", old.pk)
    assert Team.objects.get(pk=old.pk).archived_at is not None


def test_a_child_s_e_mail_address_in_place_of_a_nickname(cast):
    seen = cast.as_coach.get(reverse("member", args=[cast.member_a.pk])).context["seen"]
    typed = {"nickname": "robin@example.org", "team": cast.team_a.pk, "seen": seen}
    page = said(cast.as_coach, "member", cast.member_a.pk, **typed)
    assert "This looks like an e-mail address; write a first name or a nickname." in page
    cast.member_a.refresh_from_db()
    assert cast.member_a.nickname != typed["nickname"]


def test_naming_a_table_like_another(cast):
    make.TableFactory(club=cast.club, name="Table A")
    other = make.TableFactory(club=cast.club, name="Table B")
    seen = cast.as_coach.get(reverse("table", args=[other.pk])).context["seen"]
    page = said(cast.as_coach, "table", other.pk, name="Table A", width="240", depth="120", seen=seen)
    assert "There is a table named" in page
    other.refresh_from_db()
    assert other.name == "Table B"


def test_bringing_back_a_mission_whose_title_has_gone_to_another(cast):
    mission, _tiers = make.mission_with_tiers(cast.club)
    old = Mission.objects.create(club=cast.club, title=mission.title, archived_at=make.NOW)
    assert "by now. Rename that one first." in said(cast.as_coach, "mission_restore", old.pk)
    assert Mission.objects.get(pk=old.pk).archived_at is not None


def test_a_term_that_ends_before_it_starts(cast):
    page = said(cast.as_coach, "term_new", name="Spring", starts_on="2027-03-01", ends_on="2027-01-01")
    assert "The term ends before it starts. Check the two dates." in page and not Term.objects.exists()


def test_moving_a_session_onto_another(cast, session):
    other = Session.objects.exclude(pk=session.pk).get()
    seen = cast.as_coach.get(reverse("session_edit", args=[session.pk])).context["seen"]
    start = other.starts_at
    typed = at(session, day=start.date(), starts=f"{start:%H:%M}", ends=f"{other.ends_at:%H:%M}", seen=seen)
    page = said(cast.as_coach, "session_edit", session.pk, **typed)
    assert "already has a session at that time" in page
    assert Session.objects.get(pk=session.pk).starts_at == session.starts_at


def test_cancelling_a_session_that_has_begun(cast, session):
    run = SessionRun.objects.create(session=session, changed_at=make.NOW, started_at=make.NOW)
    page = said(cast.as_coach, "session_cancel", session.pk, do="cancel", why="storm")
    assert "This session has begun. End it on its page instead." in page
    assert SessionRun.objects.get(pk=run.pk).cancelled_at is None


def test_removing_a_session_of_which_something_is_on_record(cast, session):
    Attendance.objects.create(session=session, member=cast.member_a, present=True)
    page = said(cast.as_coach, "session_cancel", session.pk, do="remove")
    assert "This session has runs, attendance or notes. Cancel it instead." in page
    assert Session.objects.filter(pk=session.pk).exists()


def test_a_session_that_was_called_off_is_brought_back_and_another_removed(cast, session):
    assert "storm" in said(cast.as_coach, "session_cancel", session.pk, do="cancel", why="storm")
    said(cast.as_coach, "session_cancel", session.pk, do="back")
    assert SessionRun.objects.get(session=session).cancelled_at is None
    said(cast.as_coach, "session_cancel", session.pk, do="remove")
    assert not Session.objects.filter(pk=session.pk).exists()


def test_the_calendar_s_address_stops_when_the_coach_says_so(cast, session):
    said(cast.as_coach, "calendar_link", do="make")
    assert CalendarFeed.objects.filter(club=cast.club).exists()
    said(cast.as_coach, "calendar_link", do="stop")
    assert not CalendarFeed.objects.exists()


def test_a_team_s_own_run_put_right_with_rubbish(cast):
    _mission, (edition, *_more) = make.mission_with_tiers(cast.club)
    make.ProgressFactory(team=cast.team_a, tier=edition.tier)
    attempt = make.AttemptFactory(team=cast.team_a, tier=edition.tier, tier_version=edition)
    page = said(cast.as_team_a, "team_run_change", attempt.uuid, tier=edition.tier.pk, duration="rubbish")
    assert 'role="alert"' in page and "rubbish" in page
    attempt.refresh_from_db()
    assert attempt.replaced_by is None
