"""The running evidence of a team in a tier, part by part: what a run, a change and another rule write."""

from __future__ import annotations

import datetime as dt
from zoneinfo import ZoneInfo

import pytest

from classroom.robots.robot_at import HeldRobot
from missions.models import Progress
from missions.readiness.rules.evidence import Evidence, Rule
from missions.readiness.services.evidence import (
    answer_now,
    changed_at,
    merged,
    refresh_evidence,
    refresh_tier,
    rule_for,
    snapshot,
    summarise,
)
from tests import factories as make

NOW = make.NOW
UTC = ZoneInfo("UTC")
DAY, MINUTE = dt.timedelta(days=1), dt.timedelta(minutes=1)


@pytest.fixture
def edition(cast):
    return make.mission_with_tiers(cast.club)[1][0]


@pytest.fixture
def progress(cast, edition):
    return make.ProgressFactory(team=cast.team_a, tier=edition.tier)


def run(cast, edition, **more):
    values = {"team": cast.team_a, "tier_version": edition, "made_at": NOW, "robot": cast.robot_a} | more
    return make.AttemptFactory(**values)


def test_the_columns_that_the_board_sorts_by_are_kept_with_the_evidence(cast, edition, progress):
    run(cast, edition, made_at=NOW - MINUTE)
    refresh_evidence(progress, NOW)
    row = Progress.objects.get()
    assert (row.answer, row.answer_kind, row.why, row.need) == (
        "too_few",
        "",
        "Only 1 run: 1 of the last 1 (32 to 97 %) clean.",
        "Log 4 runs more.",
    )
    assert (row.last_run_at, row.updated_at) == (NOW - MINUTE, NOW)
    assert row.evidence["fold"] == [0.5, 12]


def test_only_this_teams_standing_runs_of_this_tier_are_gathered(cast, edition, progress):
    run(cast, edition)
    run(cast, edition, team=cast.team_b)
    other = make.TierVersionFactory(version=edition.version, tier__mission=edition.version.mission)
    run(cast, other)
    run(cast, edition, withdrawn_at=NOW)
    assert refresh_evidence(progress, NOW).evidence["runs"] == 1


def test_runs_of_one_moment_are_taken_in_the_order_in_which_they_came(cast, edition, progress):
    for success in (True, False, False):
        run(cast, edition, success=success)
    run(cast, edition, success=True, made_at=NOW - MINUTE)
    assert [row[0] for row in refresh_evidence(progress, NOW).evidence["strip"]] == [True, True, False, False]


def test_a_later_run_takes_one_step_and_leaves_what_it_does_not_read(cast, edition, progress):
    refresh_evidence(progress, NOW)
    newest = run(cast, edition, made_at=NOW, duration_s=40.0, lateral_mm=4.0, plan_number=1, robot=cast.robot_a)
    run(cast, edition, made_at=NOW - DAY)  # not read: only the newest is
    refresh_evidence(progress, NOW, newest)
    kept = Progress.objects.get().evidence
    assert (kept["runs"], kept["best_s"]) == (1, 40.0)
    assert kept["last"] == {str(cast.robot_a.pk): [[NOW.timestamp(), newest.pk, True, 4.0, None]]}
    assert (kept["robot"], kept["calibration"], kept["fold"]) == (cast.robot_a.pk, None, [0.5, 12])


@pytest.mark.parametrize("why", ["late", "same moment", "other rule"])
def test_a_run_that_is_no_next_step_has_all_gathered_anew(cast, edition, progress, why):
    for minutes in (3, 2, 1):
        run(cast, edition, made_at=NOW - minutes * MINUTE)
    refresh_evidence(progress, NOW)
    Progress.objects.update(evidence=progress.evidence | {"runs": 99})
    progress.refresh_from_db()
    if why == "other rule":
        edition.rule = {"window": 14}
        edition.save()
    moment = {"late": NOW - 2.5 * MINUTE, "same moment": NOW - MINUTE, "other rule": NOW}[why]
    refresh_evidence(progress, NOW, run(cast, edition, made_at=moment))
    assert progress.evidence["runs"] == 4


def test_a_run_counts_from_when_it_was_received_if_the_tablets_clock_was_ahead(cast, edition, progress):
    refresh_evidence(progress, NOW, run(cast, edition, made_at=NOW + DAY, received_at=NOW))
    assert Progress.objects.get().last_run_at == NOW
    late = run(cast, edition, made_at=NOW + DAY, received_at=NOW)
    Progress.objects.update(evidence=progress.evidence | {"runs": 99})
    progress.refresh_from_db()
    refresh_evidence(progress, NOW, late)
    assert progress.evidence["runs"] == 2


def since_change(kept):
    return kept["runs"], kept["since_change"]


@pytest.mark.parametrize(
    ("changes", "since"),
    [
        ({}, (3, 3)),
        ({"robot": "other"}, (3, 1)),
        ({"calibration": "new"}, (3, 1)),
        ({"robot": None}, (3, 1)),
    ],
)
@pytest.mark.parametrize("step", [True, False])
def test_another_robot_or_calibration_begins_to_count_anew(cast, edition, progress, changes, since, step):
    for minutes in (3, 2):
        run(cast, edition, made_at=NOW - minutes * MINUTE)
    refresh_evidence(progress, NOW)
    made = {
        "other": lambda: make.RobotFactory(club=cast.club),
        "new": lambda: make.CalibrationFactory(robot=cast.robot_a),
        None: lambda: None,
    }
    newest = run(cast, edition, **{name: made[value]() for name, value in changes.items()})
    refresh_evidence(progress, NOW, newest if step else None)
    assert since_change(Progress.objects.get().evidence) == since


@pytest.mark.parametrize("step", [True, False])
@pytest.mark.parametrize(("minutes", "since"), [(2.5, (3, 2)), (4, (3, 3)), (1, (3, 1)), (0.5, (3, 1))])
def test_a_robot_that_was_built_anew_between_two_runs_begins_to_count_anew(
    cast, edition, progress, step, minutes, since
):
    runs = [run(cast, edition, made_at=NOW - minute * MINUTE) for minute in (3, 2)]
    refresh_evidence(progress, NOW)
    cast.robot_a.changed_at = NOW - minutes * MINUTE
    cast.robot_a.save()
    newest = run(cast, edition)
    if step and minutes < 2:
        refresh_evidence(progress, NOW, newest)
    else:
        refresh_evidence(progress, NOW)
    assert len(runs) == 2 and since_change(Progress.objects.get().evidence) == since


@pytest.mark.parametrize(
    ("outcomes", "best", "strip_time"),
    [({"done": True, "home": True}, 40.0, 40.0), ({"done": True, "home": False}, None, None)],
)
def test_a_time_counts_where_every_criterion_was_met(cast, edition, outcomes, best, strip_time):
    attempt = run(cast, edition, success=True, outcomes=outcomes, duration_s=40.0, cause="slipped")
    evidence, extras = summarise([attempt], Rule(), UTC)
    assert (extras["best_s"], evidence.strip[0].duration_s, evidence.strip[0].cause) == (best, strip_time, "slipped")


def test_the_best_of_several_times_is_the_shortest_and_runs_without_one_do_not_matter(cast, edition):
    rows = [run(cast, edition, made_at=NOW + k * MINUTE, duration_s=t) for k, t in enumerate([44.0, 40.0, None, 50.0])]
    assert summarise(rows, Rule(), UTC)[1]["best_s"] == 40.0
    assert summarise(rows[2:3], Rule(), UTC)[1]["best_s"] is None


def test_a_summary_of_no_runs(cast):
    assert summarise([], Rule(), UTC) == (Evidence(), {"fold": [0.5, 12], "best_s": None, "last": {}})


# Another rule


def test_every_team_of_the_tier_is_read_anew_and_no_other(cast, edition, progress):
    other = make.ProgressFactory(team=cast.team_b, tier=edition.tier)
    elsewhere = make.ProgressFactory(team=cast.team_a, why="As it was.")
    run(cast, edition)
    assert refresh_tier(edition.tier, NOW) == 2
    progress.refresh_from_db()
    other.refresh_from_db()
    elsewhere.refresh_from_db()
    assert (progress.evidence["runs"], progress.updated_at, progress.last_run_at) == (1, NOW, NOW)
    assert (other.why, other.answer, elsewhere.why) == ("No runs yet.", "too_few", "As it was.")


def test_a_rule_that_reads_the_same_summary_does_not_gather_it_anew(cast, edition, progress):
    run(cast, edition)
    refresh_evidence(progress, NOW)
    Progress.objects.update(evidence=progress.evidence | {"runs": 7})
    edition.rule = {"least_runs": 9}
    edition.save()
    refresh_tier(edition.tier, NOW)
    progress.refresh_from_db()
    assert progress.evidence["runs"] == 7 and progress.need == "Log 2 runs more."
    edition.rule = {"window": 14}
    edition.save()
    refresh_tier(edition.tier, NOW)
    progress.refresh_from_db()
    assert progress.evidence["runs"] == 1 and progress.evidence["fold"] == [0.5, 14]


def test_a_rule_of_no_edition_has_no_limit(cast, edition):
    edition.time_limit_s, edition.rule = 75.0, {"dates": 1}
    cast.club.readiness_policy = {"target": 0.5}
    assert rule_for(cast.club, None) == Rule(target=0.5)
    assert rule_for(cast.club, edition) == Rule(target=0.5, dates=1, time_limit_s=75.0)
    assert merged({"target": 0.6}, edition, {"dates": 3}) == Rule(target=0.6, dates=3, time_limit_s=75.0)


# The robot as it is today


@pytest.mark.parametrize(
    ("kept", "built", "calibrated", "changed"),
    [
        ({"robot": 1}, NOW - 3 * DAY, None, NOW - 3 * DAY),
        ({"robot": 1}, NOW - 3 * DAY, NOW - 2 * DAY, NOW - 2 * DAY),
        ({"robot": 1}, NOW - DAY, NOW - 2 * DAY, NOW - DAY),
        ({"robot": 1}, NOW, NOW - 2 * DAY, NOW),
        ({"robot": 1}, NOW + DAY, NOW - 2 * DAY, NOW - 2 * DAY),
        ({"robot": 1}, NOW + DAY, None, None),
        ({"robot": 1}, NOW - DAY, NOW + DAY, NOW - DAY),
        ({"robot": None}, NOW - DAY, None, NOW - DAY),
        ({}, NOW - DAY, None, NOW - DAY),
        ({"robot": 2}, NOW - DAY, None, NOW),
    ],
)
def test_the_last_change_is_the_later_of_building_and_calibrating_or_now_for_another_robot(
    kept, built, calibrated, changed
):
    robot = make.RobotFactory.build(pk=1, changed_at=built, club=None)
    held = HeldRobot(robot, is_lent=False, calibrated_at=calibrated, renumbered_at=calibrated)
    assert changed_at(kept, held, NOW) == changed


def test_a_team_without_a_robot_has_no_change():
    assert changed_at({"robot": 1}, None, NOW) is None


def test_an_answer_of_now_knows_the_robot_that_the_team_has_now(cast, edition, progress):
    for k in range(12):
        run(cast, edition, made_at=NOW - (7 * DAY if k < 6 else DAY) - k * MINUTE)
    refresh_evidence(progress, NOW)
    assert answer_now(progress, NOW).code == "ready"
    make.CalibrationFactory(robot=cast.robot_a, measured_at=NOW - MINUTE)
    assert answer_now(progress, NOW).kind == "stale"


def test_a_decision_keeps_what_it_rested_on(cast, edition, progress):
    run(cast, edition)
    refresh_evidence(progress, NOW)
    assert snapshot(progress, answer_now(progress, NOW)) == {
        "tier": "Plain route",
        "answer": "too_few",
        "kind": "",
        "why": "Only 1 run: 1 of the last 1 (32 to 97 %) clean.",
        "need": "Log 4 runs more.",
        "successes": 1,
        "of": 1,
        "low": pytest.approx(0.3215, abs=1e-3),
        "high": pytest.approx(0.966, abs=1e-2),
        "probability": pytest.approx(0.6203, abs=1e-4),
        "in_time": None,
        "runs": 1,
        "robot": cast.robot_a.pk,
        "calibration": None,
    }


def test_a_decision_on_no_run_rests_on_none(cast, edition, progress):
    kept = snapshot(progress, answer_now(progress, NOW))
    assert (kept["runs"], kept["robot"], kept["calibration"], kept["answer"]) == (0, None, None, "too_few")
