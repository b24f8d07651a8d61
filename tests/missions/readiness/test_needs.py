from __future__ import annotations

import datetime as dt

from missions.readiness.rules.needs import ProgressRow, TeamRobot, TeamWithRobot, needs_by_mission, needs_of

NOW = dt.datetime(2026, 11, 18, 16, 0, tzinfo=dt.UTC)
KIT = TeamRobot(1, "Kit 1", NOW - dt.timedelta(days=9), NOW - dt.timedelta(days=9))
CURLEW = TeamWithRobot(1, "Curlew", KIT)
PLOVER = TeamWithRobot(2, "Plover", KIT)


def progress(team=1, *, tier=10, answer="working", kind="", days=1, state="working", held=None, opened=30, mission=7):
    last = None if days is None else NOW - dt.timedelta(days=days)
    opened_at = NOW - dt.timedelta(days=opened)
    why = "Why."
    return ProgressRow(team, tier, "Plain", mission, "Tide gate", state, held, answer, kind, why, last, opened_at)


def kinds(teams, rows):
    return [(need.kind, need.team) for need in needs_of(teams, rows, NOW, 15)]


def test_a_team_that_works_and_runs_needs_nothing():
    assert kinds([CURLEW], [progress()]) == []


def test_needs_are_in_the_order_of_need_not_of_teams():
    rows = [
        progress(1, answer="ready"),
        progress(2, answer="look", kind="stuck"),
        progress(1, tier=11, answer="look", kind="same_miss"),
        progress(2, tier=11, answer="look", kind="slipping_back"),
    ]
    assert [kind for kind, _ in kinds([CURLEW, PLOVER], rows)] == ["stuck", "slipping_back", "same_miss", "ready"]


def test_within_one_kind_teams_stand_in_table_order():
    rows = [progress(2, answer="ready"), progress(1, answer="ready")]
    assert kinds([PLOVER, CURLEW], rows) == [("ready", "Plover"), ("ready", "Curlew")]


def test_a_robot_that_was_never_calibrated_is_said_once():
    team = TeamWithRobot(1, "Curlew", TeamRobot(4, "Kit 4", None, NOW - dt.timedelta(days=60)))
    assert kinds([team], [progress(), progress(tier=11)]) == [("uncalibrated", "Curlew")]


def test_a_team_without_a_robot_is_told_apart():
    assert kinds([TeamWithRobot(1, "Curlew", None)], [progress()]) == [("no_robot", "Curlew")]


def test_a_team_has_gone_quiet_only_when_all_its_tiers_have():
    old = progress(days=20)
    assert kinds([CURLEW], [old, progress(tier=11, days=2)]) == []
    assert kinds([CURLEW], [old, progress(tier=11, days=16)]) == [("gone_quiet", "Curlew")]


def test_a_tier_that_was_opened_long_ago_and_never_run_is_quiet():
    need = needs_of([CURLEW], [progress(days=None, opened=21)], NOW, 15)[0]
    assert need.words == "have gone quiet: opened 21 days ago, no run yet."


def test_old_news_of_a_quiet_tier_is_not_a_need():
    assert kinds([CURLEW], [progress(answer="look", kind="stuck", days=40), progress(tier=11)]) == []


def test_ready_before_the_robot_changed_is_not_ready():
    changed = TeamWithRobot(1, "Curlew", TeamRobot(1, "Kit 1", NOW, NOW - dt.timedelta(hours=1)))
    assert kinds([changed], [progress(answer="ready", days=1)]) == []


def test_a_team_that_is_held_back_is_not_called_ready():
    assert kinds([CURLEW], [progress(answer="ready", held=NOW)]) == []


def test_passed_and_closed_tiers_need_nobody():
    assert (
        kinds(
            [CURLEW],
            [progress(answer="ready", state="passed"), progress(answer="look", kind="stuck", state="not_open")],
        )
        == []
    )


def test_each_mission_counts_its_own_needs():
    needs = needs_of([CURLEW], [progress(answer="ready"), progress(tier=20, mission=8, answer="ready")], NOW, 15)
    assert needs_by_mission(needs) == {7: 1, 8: 1}
