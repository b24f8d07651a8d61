"""The demonstration club's people, robots, tables and calendar."""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass
from typing import Any
from zoneinfo import ZoneInfo

from django.contrib.auth.hashers import make_password

from classroom.models import (
    Club,
    Coach,
    Member,
    Membership,
    Robot,
    RobotAssignment,
    Session,
    Table,
    Team,
    Term,
    User,
)
from classroom.teams.services.join_codes import new_join_code, new_pin
from config.demo.story import TEAMS, TeamStory

WEEKS = 12
THIS_WEEK = 10
ZONE = ZoneInfo("Europe/London")


@dataclass
class Cast:
    """What the story is played with."""

    club: Club
    coach: Coach
    sessions: list[Session]
    teams: dict[str, Team]
    robots: dict[str, Robot]
    pins: dict[str, str]


def make_people(now: dt.datetime, email: str, password: str) -> Cast:
    """The club as it was at the beginning of its term; this week's session is today's."""
    sessions_start = _session_starts(now)
    club = Club.objects.create(
        name="Saltmarsh Makers Club",
        time_zone=str(ZONE),
        unit="cm",
        is_demo=True,
        created_at=sessions_start[0] - dt.timedelta(days=14),
    )
    coach = _coach(club, email, password, "lead", "Coach Marram")
    _coach(club, f"assistant-{email}", password, "assistant", "Helper Samphire")
    term = Term.objects.create(
        club=club,
        name="Autumn term",
        starts_on=sessions_start[0].date(),
        ends_on=sessions_start[-1].date() + dt.timedelta(days=4),
    )
    sessions = [
        Session.objects.create(term=term, starts_at=at, ends_at=at + dt.timedelta(minutes=90), place="The boat shed")
        for at in sessions_start
    ]
    for order, name in enumerate(("Table A", "Table B", "Table C")):
        Table.objects.create(club=club, name=name, width_mm=2400, depth_mm=1200, order=order)
    cast = Cast(club, coach, sessions, {}, {}, {})
    for order, story in enumerate(TEAMS):
        _team(cast, story, order)
    return cast


def _session_starts(now: dt.datetime) -> list[dt.datetime]:
    """Once a week at the same hour, this week's about half an hour ago."""
    local = now.astimezone(ZONE)
    today = (local - dt.timedelta(minutes=20)).replace(minute=0, second=0, microsecond=0)
    if today.date() != local.date():
        today = local.replace(hour=0, minute=0, second=0, microsecond=0)
    weeks = [today + dt.timedelta(weeks=week - THIS_WEEK) for week in range(1, WEEKS + 1)]
    return [each.astimezone(dt.UTC) for each in weeks]


def _coach(club: Club, email: str, password: str, role: str, name: str) -> Coach:
    user = User.objects.create(username=email, email=email, first_name=name, password=make_password(password))
    return Coach.objects.create(user=user, club=club, role=role, joined_at=club.created_at)


def _team(cast: Cast, story: TeamStory, order: int) -> None:
    begin = cast.sessions[0].starts_at.date()
    pin = new_pin()
    team = Team.objects.create(
        club=cast.club, name=story.name, join_code=new_join_code(), pin_hash=make_password(pin), order=order
    )
    for nickname in story.members:
        member = Member.objects.create(club=cast.club, nickname=nickname)
        Membership.objects.create(member=member, team=team, joined_on=begin)
    robot = Robot.objects.create(
        club=cast.club, name=story.robot, changed_at=cast.club.created_at, **_build(story.robot)
    )
    RobotAssignment.objects.create(robot=robot, team=team, from_on=begin)
    cast.teams[story.name], cast.robots[story.name], cast.pins[story.name] = team, robot, pin


def _build(robot: str) -> dict[str, Any]:
    """All six are built alike but for their order and the sense of their yaw."""
    number = int(robot.split()[-1])
    return {
        "travel_footprint": [
            [[-50, -75], [150, -75], [150, 75], [-50, 75]],
            [[150, -10], [200, -10], [200, 40], [150, 40]],
        ],
        "wheel_diameter_mm": 56,
        "track_width_mm": 112,
        "yaw_sense": "cw" if number % 2 == 0 else "ccw",
        "order": number,
    }
