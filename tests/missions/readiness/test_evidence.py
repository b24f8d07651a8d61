from __future__ import annotations

import dataclasses
import datetime as dt
import uuid
from zoneinfo import ZoneInfo

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext
from hypothesis import given, settings
from hypothesis import strategies as st

from missions.models import Attempt, Progress
from missions.readiness.rules.evidence import Rule
from missions.readiness.services.evidence import answer_now, refresh_evidence, refresh_tier, rule_for, summarise
from missions.runs.services.record_attempt import AttemptInput, correct_attempt, record_attempt, withdraw_attempt
from tests import factories as make

NOW = make.NOW
YES = {"left_base": True, "done": True, "home": True}
NO = YES | {"done": False}


@pytest.fixture
def tier(cast):
    _, tiers = make.mission_with_tiers(cast.club)
    make.ProgressFactory(team=cast.team_a, tier=tiers[0].tier)
    return tiers[0]


def log(team, edition, success=True, *, at=NOW, **told):
    run = AttemptInput(uuid.uuid4(), edition.tier_id, at, told.pop("duration_s", 41.0), YES if success else NO, **told)
    return record_attempt(team, run, now=max(at, NOW))[0]


def log_days(team, edition, outcomes, *, days=(14, 7, 0)):
    """Runs spread over several club days, oldest first."""
    made = []
    for i, success in enumerate(outcomes):
        day = days[i * len(days) // len(outcomes)]
        made.append(log(team, edition, success, at=NOW - dt.timedelta(days=day, minutes=len(outcomes) - i)))
    return made


def kept(team):
    return Progress.objects.get(team=team)


def test_every_run_changes_what_the_rule_says(cast, tier):
    log(cast.team_a, tier)
    assert (kept(cast.team_a).answer, kept(cast.team_a).evidence["runs"]) == ("too_few", 1)
    log_days(cast.team_a, tier, [True] * 12)
    assert kept(cast.team_a).answer == "ready"
    assert "chance that it runs clean over 65 % of the time" in kept(cast.team_a).why


def test_evidence_never_passes_a_team_by_itself(cast, tier):
    log_days(cast.team_a, tier, [True] * 15)
    assert kept(cast.team_a).answer == "ready"
    assert kept(cast.team_a).state == "working"


def test_a_withdrawn_run_is_as_if_it_had_never_been(cast, tier):
    log_days(cast.team_a, tier, [True, False, True])
    before = kept(cast.team_a).evidence
    extra = log(cast.team_a, tier, False, at=NOW + dt.timedelta(minutes=1))
    assert kept(cast.team_a).evidence != before
    withdraw_attempt(extra, now=NOW, by=cast.coach)
    assert kept(cast.team_a).evidence == before


def test_a_corrected_run_counts_as_corrected(cast, tier):
    first = log(cast.team_a, tier, False)
    fixed = AttemptInput(uuid.uuid4(), tier.tier_id, NOW, 40.0, YES)
    correct_attempt(first, fixed, now=NOW, by=cast.team_a)
    evidence = kept(cast.team_a).evidence
    assert evidence["runs"] == 1
    assert evidence["strip"][0][0] is True


@settings(max_examples=25, deadline=None)
@given(
    outcomes=st.lists(st.tuples(st.booleans(), st.integers(0, 20), st.booleans()), min_size=1, max_size=25),
    late=st.integers(0, 24),
)
@pytest.mark.django_db
def test_one_step_at_a_time_or_all_anew_is_the_same(outcomes, late):
    team = make.TeamFactory()
    robot = make.RobotFactory(club=team.club)
    make.RobotAssignmentFactory(team=team, robot=robot, from_on=dt.date(2025, 9, 1))
    _, tiers = make.mission_with_tiers(team.club)
    progress = make.ProgressFactory(team=team, tier=tiers[0].tier)
    times, at = [], NOW - dt.timedelta(days=300)
    for _, gap_days, calibrated in outcomes:
        at += dt.timedelta(days=gap_days, minutes=3)
        if calibrated:
            make.CalibrationFactory(robot=robot, measured_at=at - dt.timedelta(minutes=1))
        times.append(at)
    order = list(range(len(outcomes)))
    order.append(order.pop(late % len(order)))  # one comes late, after the others
    for i in order:
        log(team, tiers[0], outcomes[i][0], at=times[i])

    progress.refresh_from_db()
    step_by_step = progress.evidence
    refresh_evidence(progress, NOW)
    assert progress.evidence == step_by_step


def test_a_run_costs_the_same_after_ten_runs_and_after_two_hundred(cast, tier):
    def cost(at):
        with CaptureQueriesContext(
            connection,
        ) as queries:
            log(cast.team_a, tier, at=at)
        return len(queries)

    log_days(cast.team_a, tier, [True] * 10)
    early = cost(NOW + dt.timedelta(seconds=1))
    make.AttemptFactory.create_batch(200, team=cast.team_a, tier_version=tier, made_at=NOW - dt.timedelta(days=90))
    late = cost(NOW + dt.timedelta(seconds=2))
    assert early == late <= 16
    assert kept(cast.team_a).evidence["runs"] == 12  # the two hundred were not read


def test_the_rule_is_the_default_then_the_clubs_then_the_tiers(cast, tier):
    cast.club.readiness_policy = {"target": 0.5, "dates": 3}
    tier.rule = {"dates": 1}
    tier.time_limit_s = 75
    assert rule_for(cast.club, tier) == dataclasses.replace(Rule(), target=0.5, dates=1, time_limit_s=75)


def test_another_rule_reads_every_team_anew(cast, tier):
    log_days(cast.team_a, tier, [True] * 12)
    tier.rule = {"target": 0.95, "window": 5, "clean_runs": 3, "clean_of": 4}
    tier.save()
    assert refresh_tier(tier.tier, NOW) == 1
    assert kept(cast.team_a).answer == "working"
    assert len(kept(cast.team_a).evidence["strip"]) == 5


def test_ready_is_stale_once_the_robot_is_calibrated_anew(cast, tier):
    log_days(cast.team_a, tier, [True] * 12)
    assert answer_now(kept(cast.team_a), NOW).code == "ready"
    make.CalibrationFactory(robot=cast.robot_a, measured_at=NOW + dt.timedelta(minutes=1))
    found = answer_now(kept(cast.team_a), NOW + dt.timedelta(minutes=2))
    assert (found.code, found.kind) == ("too_few", "stale")


def test_ready_is_stale_once_the_team_has_another_robot(cast, tier):
    log_days(cast.team_a, tier, [True] * 12)
    cast.team_a.assignments.update(to_on=NOW.date())
    make.RobotAssignmentFactory(team=cast.team_a, from_on=NOW.date(), robot__club=cast.club)
    assert answer_now(kept(cast.team_a), NOW + dt.timedelta(days=2)).kind == "stale"


def test_dates_are_the_clubs_dates(cast, tier):
    cast.club.time_zone = "Pacific/Auckland"
    attempts = [
        make.AttemptFactory(team=cast.team_a, tier_version=tier, made_at=dt.datetime(2026, 11, 17, hour, tzinfo=dt.UTC))
        for hour in (10, 12)  # 23:00 on the 17th and 01:00 on the 18th in Auckland
    ]
    evidence, _ = summarise(attempts, Rule(), ZoneInfo(cast.club.time_zone))
    assert [day.isoformat() for day in evidence.dates] == ["2026-11-17", "2026-11-18"]


def test_a_tablet_that_is_a_day_ahead_does_not_make_a_second_date(cast, tier):
    log(cast.team_a, tier, at=NOW - dt.timedelta(minutes=5))
    run = AttemptInput(uuid.uuid4(), tier.tier_id, NOW + dt.timedelta(hours=23), 40.0, YES)
    record_attempt(cast.team_a, run, now=NOW)
    assert kept(cast.team_a).evidence["dates"] == ["2026-11-18"]


def test_the_best_time_is_that_of_a_run_that_met_every_criterion(cast, tier):
    log(cast.team_a, tier, True, duration_s=50.0)
    log(cast.team_a, tier, False, duration_s=20.0, at=NOW + dt.timedelta(minutes=1))
    log(cast.team_a, tier, True, duration_s=44.0, at=NOW + dt.timedelta(minutes=2))
    assert kept(cast.team_a).evidence["best_s"] == 44.0


def test_runs_of_a_known_plan_are_kept_by_robot_and_others_are_not(cast, tier):
    log(cast.team_a, tier, False, lateral_mm=40.0, along_mm=-5.0, plan_number=1)
    log(cast.team_a, tier, True, at=NOW + dt.timedelta(minutes=1))
    (rows,) = kept(cast.team_a).evidence["last"].values()
    assert [row[2:] for row in rows] == [[False, 40.0, -5.0]]
    assert Attempt.objects.count() == 2
