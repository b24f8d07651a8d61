"""Which calibration a run was driven with: the newest of that robot that had been measured by then."""

from __future__ import annotations

import datetime as dt
import uuid

import pytest

from missions.runs.services.record_attempt import AttemptInput, record_attempt
from missions.runs.services.run_context import context_of_run
from tests import factories as make

NOW = make.NOW
MINUTE = dt.timedelta(minutes=1)


def measured(robot, minutes, kind="straight"):
    return make.CalibrationFactory(robot=robot, kind=kind, measured_at=NOW + minutes * MINUTE)


@pytest.mark.parametrize(
    ("at", "which"),
    [(-21, None), (-20, "first"), (-11, "first"), (-10, "of two"), (4, "of two"), (5, "last"), (99, "last")],
)
def test_a_run_has_the_calibration_that_was_measured_last_by_then_whatever_its_kind(cast, at, which):
    other = make.RobotFactory(club=cast.club)
    made = {"last": measured(cast.robot_a, 5), "first": measured(cast.robot_a, -20)}
    measured(cast.robot_a, -10)
    made["of two"] = measured(cast.robot_a, -10, "spin")
    for minutes in (-21, -20, -10, 4, 5, 98):
        measured(other, minutes)
    session, robot, calibration = context_of_run(cast.team_a, NOW + at * MINUTE)
    assert (session, robot, calibration) == (None, cast.robot_a, made.get(which))


def test_a_team_without_a_robot_drives_with_no_calibration(cast):
    measured(cast.robot_a, -10)
    assert context_of_run(cast.team_b, NOW) == (None, None, None)


def test_a_run_in_a_session_names_it(cast):
    term = make.TermFactory(club=cast.club)
    session = make.SessionFactory(term=term, starts_at=NOW, ends_at=NOW + 90 * MINUTE)
    make.SessionFactory(starts_at=NOW, ends_at=NOW + 90 * MINUTE)
    assert context_of_run(cast.team_a, NOW + MINUTE)[0] == session


def test_a_run_of_a_tablet_that_is_ahead_is_of_no_calibration_that_is_not_yet_measured(cast):
    edition = make.mission_with_tiers(cast.club)[1][0]
    make.ProgressFactory(team=cast.team_a, tier=edition.tier)
    known = measured(cast.robot_a, -1)
    measured(cast.robot_a, 1)
    yes = {criterion["key"]: True for criterion in edition.criteria}
    run = AttemptInput(
        uuid=uuid.uuid4(), tier_id=edition.tier_id, made_at=NOW + 2 * MINUTE, duration_s=40.0, outcomes=yes
    )
    kept, _ = record_attempt(cast.team_a, run, now=NOW)
    assert (kept.calibration, kept.made_at) == (known, NOW + 2 * MINUTE)
