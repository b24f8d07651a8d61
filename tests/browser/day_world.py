"""A club's afternoon for the browser: teams, tables, robots, a term with runs. Invented."""

from __future__ import annotations

import datetime as dt
import random
from types import SimpleNamespace
from typing import Any

from django.utils import timezone

from classroom.models import RobotAssignment, ServiceNote
from missions.day.services.safety_cards import ensure_safety_cards
from missions.models import PlannedMission, SessionRun
from tests import factories as make

BIRDS = ["Avocet", "Dunlin", "Heron", "Knot"]
CHILDREN = ["Robin", "Linnet", "Jay", "Wren", "Teal", "Martin", "Finch", "Dove", "Rook", "Lark", "Swift", "Brent"]
STEPS = [
    "Tape the near left corner: it is the zero of every measure.",
    "Fix the gate's hinge down with two clamps, on the far side of the edge.",
    "Push the gate by hand: it must swing and nothing else may move.",
]


def an_afternoon(cast: Any, *, sessions: int = 6) -> SimpleNamespace:
    """A session that began 25 minutes ago, five before it, six teams at three tables."""
    now = timezone.now().replace(second=0, microsecond=0)
    club = cast.club
    term = make.TermFactory(
        club=club,
        name="Autumn term",
        starts_on=timezone.localdate(now) - dt.timedelta(weeks=7),
        ends_on=timezone.localdate(now) + dt.timedelta(weeks=5),
    )
    mission, tiers = make.mission_with_tiers(club, setup_steps=STEPS, safety_notes="Keep fingers away from the hinge.")
    mission.title = "Tide gate"
    mission.save()
    teams = [cast.team_a, cast.team_b] + [
        make.TeamFactory(club=club, name=name, order=i + 2) for i, name in enumerate(BIRDS)
    ]
    names = iter(CHILDREN[2:])
    for team in teams[2:]:
        for _ in range(2):
            make.MembershipFactory(team=team, member__nickname=next(names))
    for number, team in enumerate(teams[1:5], start=2):
        robot = make.RobotFactory(club=club, name=f"Kit {number}", order=number)
        RobotAssignment.objects.create(team=team, robot=robot, from_on=dt.date(2026, 9, 1))
    spare = make.RobotFactory(club=club, name="Kit 7", order=7)
    ServiceNote.objects.create(robot=spare, kind="battery", text="charge and check the pack", on=now, due_on=now)
    tables = [make.TableFactory(club=club, name=f"Table {letter}", order=i) for i, letter in enumerate("ABC")]
    for number, team in enumerate(teams):
        tier = tiers[min(number % 4, 2)].tier
        answer = "look" if number == 1 else "working"
        make.ProgressFactory(team=team, tier=tier, answer=answer, why="Same miss again." if number == 1 else "")
    ensure_safety_cards(club)
    made = []
    for week in range(sessions):
        starts = now - dt.timedelta(minutes=25, weeks=sessions - 1 - week)
        session = make.SessionFactory(
            term=term, starts_at=starts, ends_at=starts + dt.timedelta(minutes=90), place="Boat house"
        )
        SessionRun.objects.create(session=session, changed_at=now, started_at=starts)
        PlannedMission.objects.create(session=session, mission=mission)
        made.append(session)
    later = make.SessionFactory(
        term=term,
        starts_at=now + dt.timedelta(weeks=1),
        ends_at=now + dt.timedelta(weeks=1, minutes=90),
        place="Boat house",
    )
    chance = random.Random(5)
    for week, session in enumerate(made):
        for number, team in enumerate(teams):
            for run in range(3 + (number + week) % 4):
                spread = 40 / (1 + 0.4 * week)
                make.AttemptFactory(
                    team=team,
                    tier_version=tiers[0],
                    session=session,
                    made_at=session.starts_at + dt.timedelta(minutes=run),
                    success=chance.random() < 0.35 + 0.1 * week,
                    duration_s=70 - 4 * week + chance.uniform(-8, 8),
                    lateral_mm=chance.gauss(0, spread),
                    along_mm=chance.gauss(0, spread),
                )
    return SimpleNamespace(
        term=term, session=made[-1], later=later, mission=mission, tiers=tiers, teams=teams, tables=tables, spare=spare
    )
