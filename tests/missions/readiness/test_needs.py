from __future__ import annotations

import datetime as dt

import pytest

from missions.readiness.rules.needs import ORDER, ProgressRow, TeamRobot, TeamWithRobot, needs_of

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
    assert [need.mission_id for need in needs] == [7, 8]


# In whole sentences


def needs(rows, *, team=CURLEW, quiet_days=15):
    return [
        (need.kind, f"{need.team} {need.words}", need.tier_id, need.tier, need.mission_id, need.mission, need.robot_id)
        for need in needs_of([team], rows, NOW, quiet_days)
    ]


PLACE = (10, "Plain", 7, "Tide gate", None)
NOWHERE = (None, "", None, "")


@pytest.mark.parametrize(
    ("row", "sentence"),
    [
        (progress(answer="look", kind="stuck"), ("stuck", "Curlew are stuck. Why.")),
        (progress(answer="look", kind="slipping_back"), ("slipping_back", "Curlew are slipping back. Why.")),
        (progress(answer="look", kind="same_miss"), ("same_miss", "Curlew miss the same way again. Why.")),
        (progress(answer="ready"), ("ready", "Curlew are ready to move up. Why.")),
        (progress(days=15), ("gone_quiet", "Curlew have gone quiet: no run for 15 days.")),
        (progress(days=None), ("gone_quiet", "Curlew have gone quiet: opened 30 days ago, no run yet.")),
        (
            progress()._replace(left_out_at=NOW),
            ("left_out", "Curlew worked on a tier that is no longer offered: pass or close it, and open another."),
        ),
    ],
)
def test_a_need_is_said_with_its_team_and_its_place(row, sentence):
    assert needs([row]) == [(*sentence, *PLACE)]


@pytest.mark.parametrize(
    ("robot", "need"),
    [
        (None, ("no_robot", "Curlew have no robot.", *NOWHERE, None)),
        (
            TeamRobot(4, "Kit 4", None, NOW - dt.timedelta(days=60)),
            ("uncalibrated", "Curlew run Kit 4 uncalibrated; plans use the kit's nominal numbers.", *NOWHERE, 4),
        ),
        (KIT, None),
    ],
)
def test_a_robot_that_is_missing_or_unmeasured_is_said_of_its_team(robot, need):
    assert needs([progress()], team=TeamWithRobot(1, "Curlew", robot)) == ([need] if need else [])


def test_a_team_that_works_on_nothing_needs_nothing_but_a_tier_that_is_offered():
    nothing = TeamWithRobot(1, "Curlew", None)
    assert needs([], team=nothing) == []
    assert [kind for kind, *_ in needs([progress()._replace(left_out_at=NOW)], team=nothing)] == ["left_out"]


@pytest.mark.parametrize(("days", "quiet"), [(14, False), (15, True), (16, True)])
def test_quiet_begins_on_the_day_that_the_rule_names(days, quiet):
    assert bool(needs([progress(days=days)])) is quiet
    assert bool(needs([progress(days=None, opened=days)])) is quiet


def test_of_several_quiet_tiers_the_one_that_was_run_last_is_named():
    rows = [progress(days=30), progress(tier=11, days=20), progress(tier=12, days=25)]
    assert [(need[1], need[2]) for need in needs(rows)] == [("Curlew have gone quiet: no run for 20 days.", 11)]


def test_a_run_at_the_moment_of_the_robots_change_is_not_overtaken():
    moment = NOW - dt.timedelta(days=1)
    for changed, kinds_then in [(moment, ["ready"]), (moment + dt.timedelta(seconds=1), [])]:
        team = TeamWithRobot(1, "Curlew", TeamRobot(1, "Kit 1", NOW, changed))
        assert kinds([team], [progress(answer="ready", days=1)]) == [(kind, "Curlew") for kind in kinds_then]


@pytest.mark.parametrize("row", [progress(answer="look", kind="gone_quiet", days=1), progress(kind="stuck", days=1)])
def test_an_answer_that_is_no_trouble_of_the_day_is_no_need(row):
    assert needs([row]) == []


def test_needs_stand_in_this_order():
    assert ORDER == (
        "stuck",
        "slipping_back",
        "same_miss",
        "ready",
        "left_out",
        "no_robot",
        "uncalibrated",
        "gone_quiet",
    )


def test_needs_of_no_mission_are_counted_with_none():
    team = TeamWithRobot(1, "Curlew", None)
    found = needs_of([team], [progress(answer="ready"), progress(tier=11, answer="ready")], NOW, 15)
    assert [need.mission_id for need in found] == [7, 7, None]
