"""A club with rows of every kind, and a second look at all its rows that shares no code with the archive."""

from __future__ import annotations

import datetime as dt
import uuid
from typing import Any

from django.db import models

from classroom.club.services.audit import note_in_audit
from classroom.families.share_summary import keep_contact, make_link, write_words
from classroom.models import (
    Attendance,
    Calibration,
    Club,
    FamilyLetter,
    Invitation,
    RobotLoan,
    SafetyCard,
    ServiceNote,
    Spare,
    User,
)
from classroom.records.walk import club_path, own_models
from missions import models as work
from planning.models import TableSurvey
from tests import factories as make

NOW = make.NOW


def whole_club(**club: Any) -> Any:
    """At least one row of every kind that a club can have, also of those that stay behind."""
    club = make.ClubFactory(name="Saltmarsh Makers Club", readiness_policy={"bar": 0.65}, **club)
    lead, gone = make.CoachFactory(club=club), make.CoachFactory(club=club, role="assistant", left_at=NOW)
    team, other = make.TeamFactory(club=club, name="Curlew"), make.TeamFactory(club=club, name="Плавунец")
    child = make.MembershipFactory(team=team, member__nickname="Ruán").member
    term = make.TermFactory(club=club)
    session = make.SessionFactory(term=term, notes="Low tide\nat four")
    table = make.TableFactory(club=club)
    Attendance.objects.create(session=session, member=child, present=True)
    SafetyCard.objects.create(club=club, subject="Edges", text="Floor", checked_by=lead, checked_on=NOW.date())
    robot = make.RobotAssignmentFactory(team=team, robot__club=club).robot
    RobotLoan.objects.create(session=session, team=other, robot=robot)
    spare = Spare.objects.create(club=club, name="Belt", on_hand=3)
    ServiceNote.objects.create(robot=robot, kind="part", text="Belt", on=NOW.date(), spare=spare, spare_count=1)
    newer = make.CalibrationFactory(robot=robot, measured_by_coach=lead, measured_by_team=team)
    older = make.CalibrationFactory(robot=robot, fit={"scale": 0.98765, "none": None})
    Calibration.objects.filter(pk=newer.pk).update(superseded_by=older)  # also to a later row
    contact = keep_contact(child, gone, email="wader@example.org", language="en", consented=True, now=NOW)
    link = make_link(child, lead, contact=contact, now=NOW)[0]
    FamilyLetter.objects.create(
        member=child, contact=contact, link=link, asked_by=lead, asked_at=NOW, state="sent", sent_at=NOW
    )
    write_words(child, lead, learnt="Tape", working_on="Turns", ask_at_home="Why?", approve=True, now=NOW)
    Invitation.objects.create(
        club=club, email="dunnock@example.org", role="observer", token_digest=uuid.uuid4().hex, created_at=NOW, expires_at=NOW
    )  # fmt: skip
    mission, (plain, *_) = make.mission_with_tiers(club, edited_by=lead)
    tier = plain.tier
    progress = make.ProgressFactory(team=team, tier=tier, evidence={"belief": [1.5, 0.25], "history": "101"})
    progress.changes.create(from_state="not_open", to_state="working", by=lead, at=NOW)
    work.ChangeMark.objects.create(team=team, robot=robot, part="tyres", at=NOW, by=lead)
    work.BarChange.objects.create(club=club, tier_version=plain, after={"bar": 0.7}, by=gone, at=NOW, reason="Late")
    trial = work.PlanTry.objects.create(
        uuid=uuid.uuid4(), team=team, tier=tier, plan_number=1, letter="A", words="3° less", made_at=NOW
    )
    tablet = make.TabletSessionFactory(team=team)
    job = make.JobFactory(club=club)
    course = make.CourseFactory(team=team, tier_version=plain, robot=robot, calibration=newer, job=job, shown_by=lead)
    runs = [
        make.AttemptFactory(
            team=team, tier_version=plain, session=session, robot=robot, calibration=newer, tablet=tablet, trial=trial,
            lateral_mm=0.1 + 0.2, note="=1+1", made_at=NOW.replace(microsecond=7),
        )
        for _ in range(3)
    ]  # fmt: skip
    for first, second in ((0, 1), (2, 0)):  # a correction comes later, or, from another tablet, earlier
        work.Attempt.objects.filter(pk=runs[first].pk).update(replaced_by=runs[second])
    TableSurvey.objects.create(team=team, tier_version=plain, readings=[{"mark": "0:2"}], places={}, made_at=NOW)
    work.SessionRun.objects.create(session=session, changed_at=NOW, better_wanted={"first": 0}, goals=[{"name": "x"}])
    work.TeamDay.objects.create(session=session, team=team, late_until=NOW)
    work.RotaTurn.objects.create(session=session, slot=0, table=table, team=team, tier=tier)
    work.TeamJob.objects.create(session=session, team=team, slot=0, job="drive", member=child)
    work.QuickNote.objects.create(session=session, team=team, text="Tape at table 1", at=NOW, by=lead)
    work.PlannedMission.objects.create(session=session, mission=mission, table=table)
    work.CalendarFeed.objects.create(club=club, token_digest=uuid.uuid4().hex, made_at=NOW, made_by=lead)
    for actor, subject in (
        (lead, f"team:{team.pk} tier:{tier.pk}"), (link, f"course:{course.pk}"), (None, f"mission:{mission.pk} v1"),
        (lead, f"link:{link.pk}"), ("support:1", "asked by ticket:12, twice"),
    ):  # fmt: skip
        note_in_audit(club, actor, "did", subject, now=NOW)
    return club


def plain_rows(club: Any) -> dict[str, list[dict[str, Any]]]:
    """Every row of the club, links as the place of the row that they lead to among those of its kind."""
    found = {model: model._base_manager.filter(**{club_path(model): club.pk}).order_by("pk") for model in own_models()}
    found[User] = User.objects.filter(coach_roles__club=club).order_by("pk")
    place = {model: {row.pk: n for n, row in enumerate(rows)} for model, rows in found.items()}
    told = {}
    for model, rows in found.items():
        told[model._meta.label] = [
            {field.name: _plain(row, field, place) for field in model._meta.concrete_fields if not field.primary_key}
            for row in rows
        ]
    return told


def _plain(row: models.Model, field: Any, place: dict[Any, dict[int, int]]) -> Any:
    value = getattr(row, field.attname)
    if field.is_relation and value is not None:
        return place[field.related_model][value]
    return value.astimezone(dt.UTC) if isinstance(value, dt.datetime) else value


def forget_club(club: Any) -> None:
    """As if it had never been here; its coaches' accounts go as well."""
    users = list(User.objects.filter(coach_roles__club=club).values_list("pk", flat=True))
    work.Attempt.objects.filter(team__club=club).update(replaced_by=None)
    for model in ("missions.Attempt", "planning.Course"):  # they hold on to missions and robots
        next(m for m in own_models() if m._meta.label == model)._base_manager.filter(team__club=club).delete()
    Club.objects.filter(pk=club.pk).delete()
    User.objects.filter(pk__in=users).delete()
