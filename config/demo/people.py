"""The demonstration club's people, robots, tables and calendar."""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass
from zoneinfo import ZoneInfo

from django.contrib.auth.hashers import make_password
from django.db import transaction

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
from config.demo.story import CoachFacts, Story, TeamStory


@dataclass
class Cast:
    """What the story is played with."""

    story: Story
    club: Club
    coach: Coach
    sessions: list[Session]
    teams: dict[str, Team]
    robots: dict[str, Robot]
    pins: dict[str, str]


def make_people(story: Story, now: dt.datetime, email: str, password: str) -> Cast:
    """The club as it was at the beginning of its term; this week's session is today's."""
    hashed = make_password(password)  # hashes are slow on purpose: made before anybody waits for the transaction
    pins = {team.name: new_pin() for team in story.teams}
    pin_hashes = {name: make_password(pin) for name, pin in pins.items()}
    with transaction.atomic():
        return _make_people(story, now, email, hashed, pins, pin_hashes)


def _make_people(
    story: Story, now: dt.datetime, email: str, hashed: str, pins: dict[str, str], pin_hashes: dict[str, str]
) -> Cast:
    sessions_start = _session_starts(story, now)
    club = Club.objects.create(
        name=story.club.name,
        time_zone=story.club.time_zone,
        unit=story.club.unit,
        is_demo=True,
        created_at=sessions_start[0] - dt.timedelta(days=14),
    )
    coaches = [
        _coach(club, email if facts.role == "lead" else f"{facts.role}-{email}", hashed, facts)
        for facts in story.coaches
    ]
    term = Term.objects.create(
        club=club,
        name=story.term.name,
        starts_on=sessions_start[0].date(),
        ends_on=sessions_start[-1].date() + dt.timedelta(days=4),
    )
    length = dt.timedelta(minutes=story.term.minutes)
    sessions = [
        Session.objects.create(term=term, starts_at=at, ends_at=at + length, place=story.term.place)
        for at in sessions_start
    ]
    for order, table in enumerate(story.tables):
        Table.objects.create(club=club, name=table.name, width_mm=table.width_mm, depth_mm=table.depth_mm, order=order)
    cast = Cast(story, club, coaches[0], sessions, {}, {}, pins)
    for order, team in enumerate(story.teams):
        _team(cast, team, order, pin_hashes[team.name])
    return cast


def _session_starts(story: Story, now: dt.datetime) -> list[dt.datetime]:
    """Once a week at the same hour, this week's about half an hour ago."""
    local = now.astimezone(ZoneInfo(story.club.time_zone))
    today = (local - dt.timedelta(minutes=20)).replace(minute=0, second=0, microsecond=0)
    if today.date() != local.date():
        today = local.replace(hour=0, minute=0, second=0, microsecond=0)
    weeks = [today + dt.timedelta(weeks=week - story.term.this_week) for week in range(1, story.term.weeks + 1)]
    return [each.astimezone(dt.UTC) for each in weeks]


def _coach(club: Club, email: str, hashed: str, facts: CoachFacts) -> Coach:
    user = User.objects.create(username=email, email=email, first_name=facts.name, password=hashed)
    return Coach.objects.create(user=user, club=club, role=facts.role, joined_at=club.created_at)


def _team(cast: Cast, story: TeamStory, order: int, pin_hash: str) -> None:
    begin = cast.sessions[0].starts_at.date()
    team = Team.objects.create(
        club=cast.club, name=story.name, join_code=new_join_code(), pin_hash=pin_hash, order=order
    )
    for nickname in story.members:
        member = Member.objects.create(club=cast.club, nickname=nickname)
        Membership.objects.create(member=member, team=team, joined_on=begin)
    facts = cast.story.robots[story.robot]
    robot = Robot.objects.create(
        club=cast.club,
        name=facts.name,
        order=facts.order,
        yaw_sense=facts.yaw_sense,
        changed_at=cast.club.created_at,
        **cast.story.build,
    )
    RobotAssignment.objects.create(robot=robot, team=team, from_on=begin)
    cast.teams[story.name], cast.robots[story.name] = team, robot
