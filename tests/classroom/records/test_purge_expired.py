"""What has outlived its date goes, what has not stays, to the second. GDPR art. 5(1)(e); 16 CFR 312.10 (from memory)."""

from __future__ import annotations

import datetime as dt

import pytest
import time_machine
from django.contrib.admin.models import CHANGE, LogEntry
from django.contrib.sessions.models import Session as BrowserSession
from django.core.management import call_command

from classroom.club.services.audit import note_in_audit
from classroom.models import Attendance, AuditEntry, Invitation, Member, SignInFailure, SummaryLink, TabletSession
from classroom.people.services.invite_coach import invite_coach
from classroom.records.services.purge_expired import Purged, purge_expired
from missions.models import Attempt, QuickNote
from planning.models import Job
from tests import factories as make

NOW = make.NOW
DAY = dt.timedelta(days=1)
SECOND = dt.timedelta(seconds=1)


def old_and_young(cast, age):
    """Two of each record, a second past the age and a second before it."""
    made = []
    term = make.TermFactory(club=cast.club)
    _, tiers = make.mission_with_tiers(cast.club)
    for over in (SECOND, -SECOND):
        at = NOW - age - over
        session = make.SessionFactory(term=term, starts_at=at - DAY / 24, ends_at=at)
        made.append(
            {
                "links": make.SummaryLinkFactory(member=cast.member_a, created_at=at - DAY, expires_at=at),
                "revoked": make.SummaryLinkFactory(member=cast.member_a, created_at=at - DAY, revoked_at=at),
                "tablets": make.TabletSessionFactory(team=cast.team_a, ended_at=at),
                "jobs": make.JobFactory(club=cast.club, finished_at=at, state="done"),
                "failures": SignInFailure.objects.create(source="192.0.2.7", kind="team", at=at),
                "attendance": Attendance.objects.create(session=session, member=cast.member_a, present=True),
                "notes": QuickNote.objects.create(session=session, text="x", at=at),
                "runs": make.AttemptFactory(team=cast.team_a, tier_version=tiers[0], made_at=at),
                "log": note_in_audit(cast.club, None, "did", now=at),
            }
        )
    return made


def standing(rows):
    return {name for name, row in rows.items() if type(row)._default_manager.filter(pk=row.pk).exists()}


@pytest.mark.parametrize(
    ("age", "gone"),
    [
        (DAY, {"failures"}),
        (30 * DAY, {"failures", "links", "revoked", "tablets", "jobs"}),
        (90 * DAY, {"failures", "links", "revoked", "tablets", "jobs", "attendance", "notes", "runs", "log"}),
    ],
)
def test_each_record_goes_on_its_own_date(cast, age, gone):
    cast.club.retention_days = 90
    cast.club.save()
    past, before = old_and_young(cast, age)
    purge_expired(NOW)
    assert set(past) - standing(past) == gone
    last = {1: {"failures"}, 30: {"links", "revoked", "tablets", "jobs"}, 90: {"attendance", "notes", "runs", "log"}}[
        age.days
    ]
    assert last <= standing(before)


def test_a_look_deletes_nothing_and_counts_the_same(cast, capsys):
    old_and_young(cast, 30 * DAY)
    seen = purge_expired(NOW, dry_run=True)
    assert seen.rows["Links of a family"] == 2 and SummaryLink.objects.count() == 6
    assert purge_expired(NOW).rows == seen.rows and SummaryLink.objects.count() == 4
    assert purge_expired(NOW).nothing
    with time_machine.travel(NOW, tick=False):
        call_command("purge_expired", "--dry-run")
    assert "Nothing is past its date." in capsys.readouterr().out


@pytest.mark.parametrize(
    ("rows", "children", "nothing"), [({}, 0, True), ({"Runs": 1}, 0, False), ({}, 1, False), ({"Runs": 0}, 0, True)]
)
def test_nothing_went_only_when_no_row_and_no_child_did(rows, children, nothing):
    assert Purged(rows, children).nothing is nothing


@pytest.mark.parametrize(("days_of_clubs", "days"), [((90, 300), 300), ((), 400)])
@pytest.mark.django_db
def test_what_is_of_no_club_is_kept_as_long_as_any_club_keeps_its_records(days_of_clubs, days):
    for kept_for in days_of_clubs:
        make.ClubFactory(retention_days=kept_for)
    user = make.UserFactory()
    past, before = (
        LogEntry.objects.create(user=user, object_repr="x", action_flag=CHANGE, action_time=NOW - days * DAY - over)
        for over in (SECOND, -SECOND)
    )
    purge_expired(NOW)
    assert list(LogEntry.objects.all()) == [before] and past.pk != before.pk


def test_sessions_of_browsers_and_invitations_go_too(cast):
    invite_coach(cast.coach, "dunnock@example.org", "observer", now=NOW - 38 * DAY)
    BrowserSession.objects.create(session_key="x" * 32, session_data="", expire_date=NOW - SECOND)
    purge_expired(NOW)
    assert not Invitation.objects.exists() and not BrowserSession.objects.filter(session_key="x" * 32).exists()


def test_a_run_goes_with_its_corrections_or_not_at_all(cast):
    _, tiers = make.mission_with_tiers(cast.club)
    old = NOW - 500 * DAY
    first = make.AttemptFactory(team=cast.team_a, tier_version=tiers[0], made_at=old)
    second = make.AttemptFactory(team=cast.team_a, tier_version=tiers[0], made_at=old)
    Attempt.objects.filter(pk=first.pk).update(replaced_by=second)
    young, mended = (make.AttemptFactory(team=cast.team_a, tier_version=tiers[0], made_at=NOW) for _ in range(2))
    Attempt.objects.filter(pk=young.pk).update(replaced_by=mended)
    purge_expired(NOW)
    assert set(Attempt.objects.values_list("pk", "replaced_by")) == {(young.pk, mended.pk), (mended.pk, None)}


def test_children_who_left_long_ago_are_erased_and_others_stay(cast):
    left = (NOW - 401 * DAY).date()
    make.MembershipFactory(team=cast.team_a, member__nickname="Long-gone", joined_on=left, left_on=left)
    back = make.MembershipFactory(team=cast.team_a, member__nickname="Back", joined_on=left, left_on=left).member
    make.MembershipFactory(team=cast.team_b, member=back)
    lately = (NOW - 400 * DAY).date()
    make.MembershipFactory(team=cast.team_a, member__nickname="Lately", joined_on=lately, left_on=lately)
    assert purge_expired(NOW, dry_run=True).children == 1 and Member.objects.count() == 5
    assert purge_expired(NOW).children == 1
    assert set(Member.objects.values_list("nickname", flat=True)) == {"Robin", "Linnet", "Back", "Lately"}
    entry = AuditEntry.objects.get(verb="erased child")
    assert (entry.actor, entry.subject) == ("system", "")


def test_what_is_in_force_is_not_touched(cast):
    job = make.JobFactory(club=cast.club, state="waiting", created_at=NOW - 500 * DAY)
    purge_expired(NOW)
    assert Job.objects.filter(pk=job.pk).exists()
    assert SummaryLink.objects.count() == 2 and TabletSession.objects.count() == 2
