"""Rows for tests. Everything invented; each factory gives a row that would pass its own form."""

from __future__ import annotations

import datetime as dt
import uuid
from typing import Any

import factory
from django.contrib.auth.hashers import make_password
from factory.django import DjangoModelFactory

from classroom import models as room
from missions import models as work
from planning import models as plan

NOW = dt.datetime(2026, 11, 18, 16, 0, tzinfo=dt.UTC)
PIN = "493817"
PASSWORD = "low-water-at-dawn"

BOX_WITH_TOOL = [
    [[-50, -75], [150, -75], [150, 75], [-50, 75]],
    [[150, -10], [200, -10], [200, 40], [150, 40]],
]
GATE = {
    "name": "tide gate",
    "body": [[1900, 450], [1960, 450], [1960, 750], [1900, 750]],
    "precontact": {"x_mm": 1670.0, "y_mm": 585.0, "heading_deg": 0.0},
    "gap_mm": 30.0,
    "push_mm": 60.0,
    "window": {"lateral_mm": 60, "heading_deg": 8, "short_mm": 20, "long_mm": 30},
}
CRITERIA = [
    {"key": "left_base", "words": "Left the base by itself"},
    {"key": "done", "words": "Gate is shut"},
    {"key": "home", "words": "Came back into the base"},
]
#: What a check says of a course without any action.
UNCHECKED: dict[str, Any] = {
    "clear": False,
    "touches": [],
    "room_mm": [],
    "nearest": [],
    "poses": [],
    "duration_s": 0.0,
    "outbound_s": 0.0,
    "return_s": 0.0,
    "clearance_mm": None,
    "landing": None,
    "success": None,
    "shares": [],
}
GRAVEL_BANK = {"name": "gravel bank", "outline": [[900, 500], [1200, 500], [1200, 750], [900, 750]]}


class ClubFactory(DjangoModelFactory):
    class Meta:
        model = room.Club

    name = factory.Sequence(lambda n: f"Estuary Club {n}")
    created_at = NOW


class UserFactory(DjangoModelFactory):
    class Meta:
        model = room.User
        skip_postgeneration_save = True

    email = factory.Sequence(lambda n: f"coach{n}@example.org")
    username = factory.SelfAttribute("email")
    first_name = "Wren"
    password = factory.LazyFunction(lambda: make_password(PASSWORD))


class CoachFactory(DjangoModelFactory):
    class Meta:
        model = room.Coach

    user = factory.SubFactory(UserFactory)
    club = factory.SubFactory(ClubFactory)
    role = "lead"
    joined_at = NOW


class TermFactory(DjangoModelFactory):
    class Meta:
        model = room.Term

    club = factory.SubFactory(ClubFactory)
    name = factory.Sequence(lambda n: f"Autumn term {n}")
    starts_on = dt.date(2026, 9, 14)
    ends_on = dt.date(2026, 12, 11)


class SessionFactory(DjangoModelFactory):
    class Meta:
        model = room.Session

    term = factory.SubFactory(TermFactory)
    starts_at = factory.Sequence(lambda n: NOW + dt.timedelta(days=7 * n))
    ends_at = factory.LazyAttribute(lambda o: o.starts_at + dt.timedelta(minutes=90))


class TableFactory(DjangoModelFactory):
    class Meta:
        model = room.Table

    club = factory.SubFactory(ClubFactory)
    name = factory.Sequence(lambda n: f"Trestle {n}")  # "Table 2" is a name that tests give
    width_mm = 2400
    depth_mm = 1200


class TeamFactory(DjangoModelFactory):
    class Meta:
        model = room.Team

    club = factory.SubFactory(ClubFactory)
    name = factory.Sequence(lambda n: f"Team {n}")
    join_code = factory.Sequence(lambda n: f"T{n:07d}")
    pin_hash = factory.LazyFunction(lambda: make_password(PIN))


class MemberFactory(DjangoModelFactory):
    class Meta:
        model = room.Member

    club = factory.SubFactory(ClubFactory)
    nickname = factory.Sequence(lambda n: f"Robin{n}")


class MembershipFactory(DjangoModelFactory):
    class Meta:
        model = room.Membership

    team = factory.SubFactory(TeamFactory)
    member = factory.SubFactory(MemberFactory, club=factory.SelfAttribute("..team.club"))
    joined_on = dt.date(2026, 9, 14)


class RobotFactory(DjangoModelFactory):
    class Meta:
        model = room.Robot

    club = factory.SubFactory(ClubFactory)
    name = factory.Sequence(lambda n: f"Kit {n + 100}")  # the cast and many tests name the first few themselves
    travel_footprint = factory.LazyFunction(lambda: BOX_WITH_TOOL)
    wheel_diameter_mm = 56
    track_width_mm = 112
    changed_at = NOW - dt.timedelta(days=60)


class RobotAssignmentFactory(DjangoModelFactory):
    class Meta:
        model = room.RobotAssignment

    team = factory.SubFactory(TeamFactory)
    robot = factory.SubFactory(RobotFactory, club=factory.SelfAttribute("..team.club"))
    from_on = dt.date(2026, 9, 14)


class CalibrationFactory(DjangoModelFactory):
    class Meta:
        model = room.Calibration

    robot = factory.SubFactory(RobotFactory)
    kind = "straight"
    surface = "table mat"
    runs = factory.LazyFunction(list)
    fit = factory.LazyFunction(dict)
    measured_at = NOW - dt.timedelta(days=5)


class TabletSessionFactory(DjangoModelFactory):
    class Meta:
        model = room.TabletSession

    team = factory.SubFactory(TeamFactory)
    started_at = NOW
    last_seen_at = NOW
    expires_at = dt.datetime(2100, 1, 1, tzinfo=dt.UTC)


class SignInFactory(DjangoModelFactory):
    class Meta:
        model = room.SignIn

    user = factory.SubFactory(UserFactory)
    session_key = factory.Sequence(lambda n: f"browser{n:025d}")
    browser = "Firefox on Windows"
    source = "192.0.2.7"
    at = NOW
    last_seen_at = NOW


class SummaryLinkFactory(DjangoModelFactory):
    class Meta:
        model = room.SummaryLink

    member = factory.SubFactory(MemberFactory)
    token_digest = factory.Sequence(lambda n: f"{n:064x}")
    created_at = NOW
    expires_at = dt.datetime(2100, 1, 1, tzinfo=dt.UTC)


class MissionFactory(DjangoModelFactory):
    class Meta:
        model = work.Mission

    club = factory.SubFactory(ClubFactory)
    title = factory.Sequence(lambda n: f"Tide gate {n}")


class MissionVersionFactory(DjangoModelFactory):
    class Meta:
        model = work.MissionVersion

    mission = factory.SubFactory(MissionFactory)
    title = factory.SelfAttribute("mission.title")
    number = 1
    published_at = NOW - dt.timedelta(days=30)
    edited_at = NOW - dt.timedelta(days=30)
    summary = "Shut the gate, come home"
    brief = "The tide is coming in. **Shut the gate.**"
    width_mm = 2400
    depth_mm = 1200
    base = factory.LazyFunction(lambda: [[0, 0], [520, 0], [520, 450], [0, 450]])
    start = factory.LazyFunction(lambda: {"x_mm": 120, "y_mm": 225, "heading_deg": 0})
    target = factory.LazyFunction(lambda: GATE)


class TierFactory(DjangoModelFactory):
    class Meta:
        model = work.Tier

    mission = factory.SubFactory(MissionFactory)
    order = factory.Sequence(lambda n: n + 1)
    kind = "plain"
    name = "Plain route"


class TierVersionFactory(DjangoModelFactory):
    class Meta:
        model = work.TierVersion

    version = factory.SubFactory(MissionVersionFactory)
    tier = factory.SubFactory(TierFactory, mission=factory.SelfAttribute("..version.mission"))
    order = factory.SelfAttribute("tier.order")
    name = factory.SelfAttribute("tier.name")
    criteria = factory.LazyFunction(lambda: CRITERIA)


class ProgressFactory(DjangoModelFactory):
    class Meta:
        model = work.Progress

    team = factory.SubFactory(TeamFactory)
    tier = factory.SubFactory(TierFactory)
    state = "working"
    opened_at = NOW - dt.timedelta(days=20)
    updated_at = NOW - dt.timedelta(days=20)


class AttemptFactory(DjangoModelFactory):
    class Meta:
        model = work.Attempt

    uuid = factory.LazyFunction(uuid.uuid4)
    tier_version = factory.SubFactory(TierVersionFactory)
    tier = factory.SelfAttribute("tier_version.tier")
    team = factory.SubFactory(TeamFactory)
    made_at = factory.Sequence(lambda n: NOW + dt.timedelta(minutes=n))
    received_at = factory.SelfAttribute("made_at")
    success = True
    outcomes = factory.LazyAttribute(lambda o: {c["key"]: o.success for c in CRITERIA})


class JobFactory(DjangoModelFactory):
    class Meta:
        model = plan.Job

    club = factory.SubFactory(ClubFactory)
    kind = "plan_course"
    input = factory.LazyFunction(dict)
    input_hash = factory.Sequence(lambda n: f"{n:064x}")
    created_at = NOW


class CourseFactory(DjangoModelFactory):
    class Meta:
        model = plan.Course

    team = factory.SubFactory(TeamFactory)
    tier_version = factory.SubFactory(TierVersionFactory)
    robot = factory.SubFactory(RobotFactory, club=factory.SelfAttribute("..team.club"))
    number = factory.Sequence(lambda n: n + 1)
    origin = "team"
    start = factory.LazyFunction(lambda: {"x_mm": 120, "y_mm": 225, "heading_deg": 0})
    actions = factory.LazyFunction(list)
    check_result = factory.LazyFunction(lambda: dict(UNCHECKED))
    created_at = NOW


#: A second thing to push, met from the near side: a tier's ``more_targets``.
CRATE = {
    "name": "crate",
    "body": [[900, 900], [1000, 900], [1000, 1000], [900, 1000]],
    "contact": {"x_mm": 950, "y_mm": 900, "heading_deg": 90},
    "gap_mm": 30,
    "push_mm": 60,
    "window": {"lateral_mm": 40, "heading_deg": 8, "short_mm": 20, "long_mm": 30},
}


def mission_with_tiers(club: Any, **version: Any) -> tuple[work.Mission, list[work.TierVersion]]:
    """A published mission with the three usual tiers."""
    mission = MissionFactory(club=club)
    edition = MissionVersionFactory(mission=mission, **version)
    made = []
    for order, (kind, name, obstacles, limit) in enumerate(
        [
            ("plain", "Plain route", [], None),
            ("obstacle", "With obstacle", [GRAVEL_BANK], None),
            ("timed", "Timed", [GRAVEL_BANK], 75.0),
        ],
        start=1,
    ):
        tier = TierFactory(mission=mission, order=order, kind=kind, name=name)
        made.append(TierVersionFactory(tier=tier, version=edition, obstacles=obstacles, time_limit_s=limit))
    return mission, made


def kit_out(team: Any) -> Any:
    """What a team needs for a turn at a table: a child and a robot, where it has none. The robot."""
    if not team.memberships.exists():
        MembershipFactory(team=team)
    if not team.assignments.exists():
        RobotAssignmentFactory(team=team, robot=RobotFactory(club=team.club))
    return team.assignments.get().robot
