"""Which robot has this team now? Every page gives one answer, also while a robot is lent to it for a session."""

from __future__ import annotations

import datetime as dt
from typing import Any

import pytest
import time_machine
from django.urls import reverse

from missions.day.pages.teams import teams_of_day
from missions.day.services.run_session import lend_robot
from missions.models import Attempt, Progress
from missions.readiness.pages.board import read_board
from missions.readiness.pages.evidence import read_evidence
from missions.readiness.pages.history import read_board_on
from missions.readiness.services.evidence import answer_now
from missions.runs.services.record_attempt import AttemptInput, record_attempt
from tests import factories as make

RUN_AT = dt.datetime(2026, 11, 18, 16, 20, tzinfo=dt.UTC)
LATER = RUN_AT + dt.timedelta(minutes=5)
NEXT_DAY = RUN_AT + dt.timedelta(days=1)


@pytest.fixture
def afternoon(cast: Any) -> Any:
    """Curlew has Kit 1 and is lent Kit 9 for the session of the day, in which it logs a run."""
    _, tiers = make.mission_with_tiers(cast.club)
    cast.edition = tiers[0]
    make.ProgressFactory(team=cast.team_a, tier=cast.edition.tier)
    cast.session = make.SessionFactory(term__club=cast.club, starts_at=RUN_AT - dt.timedelta(minutes=20))
    cast.lent = make.RobotFactory(club=cast.club, name="Kit 9")
    with time_machine.travel(RUN_AT, tick=False):
        lend_robot(cast.session, cast.team_a, cast.lent)
    done = {"left_base": True, "done": True, "home": True}
    record_attempt(
        cast.team_a,
        AttemptInput(
            tier_id=cast.edition.tier_id, uuid=make.uuid.uuid4(), made_at=RUN_AT, duration_s=None, outcomes=done
        ),
        now=RUN_AT,
    )
    return cast


def kits(afternoon: Any, at: dt.datetime) -> dict[str, str]:
    """The robot's name as each page has it at a moment."""
    club, team, tier = afternoon.club, afternoon.team_a, afternoon.edition.tier
    board, then = read_board(club, at), read_board_on(club, at.date(), at)
    evidence = read_evidence(club, team, tier, at)
    assert board and then and evidence and evidence.robot
    names = {
        "board": next(row.team.robot.name for row in board.rows if row.team.team_id == team.pk and row.team.robot),
        "earlier day": next(row.team.robot.name for row in then.rows if row.team.team_id == team.pk and row.team.robot),
        "evidence": evidence.robot.name,
    }
    with time_machine.travel(at, tick=False):
        asked = afternoon.as_coach.get(reverse("course_ask", args=[team.pk, tier.pk]))
        tablet = afternoon.as_team_a.get(reverse("team_robot"))
        course = afternoon.as_team_a.get(reverse("team_course"))
    names |= {"course card": asked.context["robot"].name, "tablet": tablet.context["robot"].name}
    return names | {"tablet's course": course.context["robot"].name}


def test_a_team_on_a_lent_robot_has_that_robot_on_every_page(afternoon: Any) -> None:
    assert Attempt.objects.get().robot == afternoon.lent
    today = next(team for team in teams_of_day(afternoon.session) if team.team == afternoon.team_a)
    assert (today.robot, today.is_lent) == (afternoon.lent, True)
    assert set(kits(afternoon, LATER).values()) == {"Kit 9"}


def test_the_day_after_it_has_its_own_again_on_every_page(afternoon: Any) -> None:
    assert set(kits(afternoon, NEXT_DAY).values()) == {"Kit 1"}
    then = read_board_on(afternoon.club, RUN_AT.date(), NEXT_DAY)
    assert then
    assert [row.team.robot.name for row in then.rows if row.team.robot] == ["Kit 9"]


def test_evidence_of_a_lent_robot_is_of_that_day_and_not_of_its_own_robot(afternoon: Any) -> None:
    progress = Progress.objects.select_related("team__club", "tier").get()
    assert answer_now(progress, LATER).kind == ""
    found = answer_now(progress, NEXT_DAY)
    assert (found.code, found.kind) == ("too_few", "stale")
    assert "has changed since the last run" in found.why
