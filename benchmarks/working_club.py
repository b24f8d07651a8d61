"""An invented club in the middle of an afternoon: teams with runs, a full rota, children, robots, cautions, kept plans.

It is made in bulk, so that many of them can stand in one database: sixty for ``make load``, a thousand for ``server.scale_``.
"""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass
from typing import Any

from benchmarks.own_database import session_of, session_with

CHILDREN, TABLES, SESSIONS, SLOTS, MINUTES = 5, 6, 12, 12, 10
#: What each robot was measured to do.
STRAIGHT = {
    "scale": 0.99,
    "scale_u": 0.002,
    "residual_sd_mm": 3.0,
    "fraction_sd": 0.004,
    "repeatability_mm": 2.0,
    "outliers": [],
    "runs": 6,
}


@dataclass(frozen=True)
class WorkingClub:
    """``session`` is on; ``editions`` are the tiers of the first mission first."""

    club: Any
    coach: Any
    teams: list[Any]
    editions: list[Any]
    session: Any
    children: list[Any]


def working_club(teams: int, missions: int, runs: int, *, now: dt.datetime, pin_hash: str = "!") -> WorkingClub:
    """Every team works in every tier, with its share of ``runs`` behind it, dealt over sixty days."""
    from benchmarks.coach_board import add_runs
    from missions.day.services.safety_cards import ensure_safety_cards
    from missions.models import Progress
    from missions.readiness.services.evidence import refresh_evidence
    from tests import factories as make

    ago = now - dt.timedelta(days=99)
    club = make.ClubFactory(created_at=ago)
    coach = make.CoachFactory(club=club, user__password=pin_hash, joined_at=ago)
    birds = [make.TeamFactory(club=club, name=f"Wader {n + 1}", order=n, pin_hash=pin_hash) for n in range(teams)]
    for bird in birds:
        robot = make.RobotAssignmentFactory(team=bird, robot__changed_at=ago, from_on=ago.date()).robot
        make.CalibrationFactory(robot=robot, measured_at=now - dt.timedelta(days=98), fit=STRAIGHT)
    editions = []
    for _ in range(missions):
        editions += make.mission_with_tiers(club, published_at=ago)[1]
    opened = now - dt.timedelta(days=80)
    cells = [
        Progress(team=bird, tier=edition.tier, state="working", opened_at=opened, updated_at=opened)
        for bird in birds
        for edition in editions
    ]
    Progress.objects.bulk_create(cells)
    add_runs([(bird, edition) for bird in birds for edition in editions], runs, now)
    session, children = _afternoons(club, birds, editions, now)
    for progress in cells:
        refresh_evidence(progress, now)
    ensure_safety_cards(club)
    return WorkingClub(club, coach, birds, editions, session, children)


def _afternoons(club: Any, teams: list[Any], editions: list[Any], now: dt.datetime) -> tuple[Any, list[Any]]:
    """Twelve sessions that share out the runs; the last is on, with everybody there and a full rota."""
    from classroom.models import Attendance, Member, Membership, ServiceNote, Session, Table
    from missions.models import Attempt, PlannedMission, QuickNote, RotaTurn, SessionRun
    from tests import factories as make

    begins = now.date() - dt.timedelta(days=95)
    term = make.TermFactory(club=club, starts_on=begins, ends_on=now.date() + dt.timedelta(days=5))
    starts = [now - dt.timedelta(days=5 * (SESSIONS - 1 - week), minutes=35) for week in range(SESSIONS)]
    lasts = dt.timedelta(minutes=MINUTES * SLOTS)
    sessions = Session.objects.bulk_create([Session(term=term, starts_at=at, ends_at=at + lasts) for at in starts])
    SessionRun.objects.bulk_create(
        [SessionRun(session=one, started_at=one.starts_at, changed_at=one.starts_at) for one in sessions]
    )
    for session in sessions:
        since = session.starts_at - dt.timedelta(days=5)
        own = Attempt.objects.filter(team__club=club, made_at__gt=since, made_at__lte=session.starts_at + lasts)
        own.update(session=session)
    last = sessions[-1]
    missions = dict.fromkeys(edition.tier.mission for edition in editions)
    PlannedMission.objects.bulk_create([PlannedMission(session=last, mission=mission) for mission in missions])
    tables = Table.objects.bulk_create(
        [Table(club=club, name=f"Trestle {n + 1}", width_mm=2400, depth_mm=1200, order=n) for n in range(TABLES)]
    )
    turns = []
    for slot in range(SLOTS):
        for number, table in enumerate(tables[: len(teams)]):
            team = teams[(slot * TABLES + number) % len(teams)]
            tier = editions[number % len(editions)].tier
            layout = str(number + slot % 3)
            turns.append(RotaTurn(session=last, slot=slot, table=table, team=team, tier=tier, layout=layout))
    RotaTurn.objects.bulk_create(turns)
    names = [f"Robin{n}" for n in range(CHILDREN * len(teams))]
    children = Member.objects.bulk_create([Member(club=club, nickname=name) for name in names])
    Membership.objects.bulk_create(
        [Membership(team=teams[n // CHILDREN], member=one, joined_on=begins) for n, one in enumerate(children)]
    )
    Attendance.objects.bulk_create(
        [Attendance(session=one, member=child, present=True) for one in sessions for child in children]
    )
    for team in teams:
        robot = team.assignments.get().robot
        ServiceNote.objects.create(robot=robot, kind="battery", text="charge", on=now.date(), due_on=now.date())
        QuickNote.objects.create(session=last, team=team, text="Belt replaced.", at=now)
    return last, children


def keep_a_plan_each(made: WorkingClub, edition: Any, now: dt.datetime) -> None:
    """A course of each team in a tier, checked, as its tablet keeps it. It needs the kernels."""
    from benchmarks.sample_courses import through
    from motion.course.actions import Drive, Push
    from motion.scene.records import Pose
    from planning.courses.services.save_revision import save_revision

    start = Pose(120.0, 225.0, 0.0)
    there = through(start, [(500.0, 225.0), (860.0, 585.0), (1670.0, 585.0)], 0.0)
    for team in made.teams:
        robot = team.assignments.get().robot
        save_revision(team, edition, robot, start, [*there, Push(90.0), Drive(-400.0)], now=now)


def signed_in(made: WorkingClub) -> dict[str, Any]:
    """Sessions of the coach and of every team's tablet, as those who send requests need them."""
    from classroom.access import FAMILY_KEY, TABLET_KEY
    from tests import factories as make

    tiers = [edition.tier_id for edition in made.editions]
    tablets = [
        {
            "team": team.pk,
            "tier": tiers[0],
            "session": session_with(**{TABLET_KEY: make.TabletSessionFactory(team=team).pk}),
        }
        for team in made.teams
    ]
    return {
        "club": made.club.pk,
        "coach": session_of(made.coach.user),
        "term": made.session.term_id,
        "session": made.session.pk,
        "mission": made.editions[0].tier.mission_id,
        "tiers": tiers,
        "family": session_with(**{FAMILY_KEY: make.SummaryLinkFactory(member=made.children[0]).pk}),
        "teams": tablets,
    }
