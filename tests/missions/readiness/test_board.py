from __future__ import annotations

import datetime as dt
import re

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext
from django.urls import reverse
from django.utils import timezone

from missions.models import Progress
from missions.readiness.pages.board import read_board
from missions.readiness.services.evidence import refresh_evidence
from missions.readiness.services.progress import hold_back, open_tier, pass_tier
from tests import factories as make
from tests.pages import page_of

TODAY = timezone.now().replace(microsecond=0)


@pytest.fixture
def gate(cast):
    mission, editions = make.mission_with_tiers(cast.club, published_at=TODAY - dt.timedelta(days=90))
    cast.robot_a.changed_at = TODAY - dt.timedelta(days=90)
    cast.robot_a.save()
    cast.mission, cast.editions = mission, editions
    return mission


def run_days(team, edition, outcomes, *, days=(8, 1), **other):
    """Runs spread over days before today, and the evidence brought up to date."""
    progress, _ = Progress.objects.get_or_create(
        team=team,
        tier=edition.tier,
        defaults={"state": "working", "opened_at": TODAY - dt.timedelta(days=40), "updated_at": TODAY},
    )
    for i, success in enumerate(outcomes):
        at = TODAY - dt.timedelta(days=days[i * len(days) // len(outcomes)], minutes=len(outcomes) - i)
        make.AttemptFactory(
            team=team,
            tier_version=edition,
            success=success,
            made_at=at,
            robot=other.get("robot"),
            cause=other.get("cause", ""),
        )
    return refresh_evidence(progress, TODAY)


def cells(board, name):
    return next(row.cells for row in board.rows if row.team.name == name)


def words(board, name):
    return [cell.chip.word for cell in cells(board, name)]


def test_the_board_shows_every_team_in_every_tier(cast, gate):
    run_days(cast.team_a, cast.editions[0], [True] * 12, robot=cast.robot_a)
    board = read_board(cast.club, TODAY)
    assert words(board, "Curlew") == ["Ready to move up", "Not open yet", "Not open yet"]
    assert words(board, "Plover") == ["Not open yet"] * 3
    assert [cell.may_open for cell in cells(board, "Curlew")] == [False, True, False]
    assert [cell.may_open for cell in cells(board, "Plover")] == [True, False, False]


@pytest.mark.parametrize(
    ("outcomes", "cause", "word"),
    [
        ([True] * 2, "", "Too few runs to tell"),
        ([True, False] * 4, "", "Working"),
        ([False] * 18, "", "Needs a look"),
        ([True] * 4 + [False] * 3, "too_short", "Needs a look"),
    ],
)
def test_a_cell_says_what_the_rule_says(cast, gate, outcomes, cause, word):
    run_days(cast.team_a, cast.editions[0], outcomes, cause=cause)
    assert words(read_board(cast.club, TODAY), "Curlew")[0] == word


def test_passed_and_held_cells_name_who_decided(cast, gate):
    run_days(cast.team_a, cast.editions[0], [True] * 12, robot=cast.robot_a)
    run_days(cast.team_b, cast.editions[0], [True] * 12)
    pass_tier(cast.coach, cast.team_a, cast.editions[0].tier, "", TODAY)
    hold_back(cast.coach, cast.team_b, cast.editions[0].tier, "Only one table so far", TODAY)
    board = read_board(cast.club, TODAY)
    passed, held = cells(board, "Curlew")[0], cells(board, "Plover")[0]
    assert (passed.chip.word, passed.decided.by) == ("Passed", cast.coach)
    assert (held.chip.word, held.decided.reason) == ("Held back", "Only one table so far")


def test_a_quiet_team_needs_a_look_though_nothing_was_written(cast, gate):
    run_days(cast.team_a, cast.editions[0], [True] * 12, robot=cast.robot_a)
    later = TODAY + dt.timedelta(days=20)
    board = read_board(cast.club, later)
    assert words(board, "Curlew")[0] == "Needs a look"
    assert [need.kind for need in board.needs] == ["uncalibrated", "gone_quiet"]


def test_a_new_calibration_asks_for_fresh_runs(cast, gate):
    run_days(cast.team_a, cast.editions[0], [True] * 12, robot=cast.robot_a)
    make.CalibrationFactory(robot=cast.robot_a, measured_at=TODAY)
    board = read_board(cast.club, TODAY)
    assert words(board, "Curlew")[0] == "Needs fresh runs"
    assert [need.kind for need in board.needs] == []


def test_the_first_mission_shown_is_the_one_run_last(cast, gate):
    other, editions = make.mission_with_tiers(cast.club)
    run_days(cast.team_a, editions[0], [True])
    assert read_board(cast.club, TODAY).mission == other
    assert read_board(cast.club, TODAY, gate.pk).mission == gate


def test_filters_show_the_teams_in_that_state_and_counts_stay(cast, gate):
    run_days(cast.team_a, cast.editions[0], [True] * 12, robot=cast.robot_a)
    run_days(cast.team_b, cast.editions[0], [False] * 18)
    board = read_board(cast.club, TODAY, gate.pk, "ready")
    assert [row.team.name for row in board.rows] == ["Curlew"]
    assert (board.counts["all"], board.counts["needed"], board.counts["ready"]) == (2, 2, 1)


def test_one_count_of_who_needs_the_coach_stands_wherever_it_is_said(cast, gate):
    """Two needs of one team are one team, in whatever mission; the switch between missions marks it and counts nothing."""
    make.mission_with_tiers(cast.club)
    run_days(cast.team_a, cast.editions[0], [True] * 12, robot=cast.robot_a)
    run_days(cast.team_a, cast.editions[1], [False] * 24, robot=cast.robot_a)
    board = read_board(cast.club, TODAY, gate.pk, "needed")
    assert len(board.needs) > 1
    assert board.needing == board.counts["needed"] == len(board.rows) == 1
    assert [choice.needed for choice in board.choices] == [choice.mission == gate for choice in board.choices]
    page = page_of(cast.as_coach.get(reverse("board_mission", args=[gate.pk])))
    assert '<span class="count">1 team</span>' in page
    assert re.search(r'id="show-needed"[^>]*>\s*Need you\s*<span class="num">1</span>', page)


def test_an_archived_mission_and_a_draft_are_not_on_the_board(cast, gate):
    make.MissionVersionFactory(mission=make.MissionFactory(club=cast.club), published_at=None)
    gate.archived_at = TODAY
    gate.save()
    assert read_board(cast.club, TODAY).mission is None
    assert read_board(cast.club, TODAY, gate.pk) is None


def test_a_timed_cell_says_the_chance_to_beat_the_limit(cast, gate):
    timed = cast.editions[2]
    progress = make.ProgressFactory(team=cast.team_a, tier=timed.tier)
    for i, seconds in enumerate((70, 71, 72, 73)):
        make.AttemptFactory(
            team=cast.team_a, tier_version=timed, duration_s=seconds, made_at=TODAY - dt.timedelta(hours=5 - i)
        )
    refresh_evidence(progress, TODAY)
    cell = cells(read_board(cast.club, TODAY), "Curlew")[2]
    assert cell.best_s == 70
    assert 0.7 < cell.found.in_time < 1


# The page


def test_a_coach_sees_the_board_and_its_words(cast, gate):
    run_days(cast.team_a, cast.editions[0], [True] * 12, robot=cast.robot_a)
    page = page_of(cast.as_coach.get("/"))
    for text in (
        "Ready to move up",
        "12 of the last 12",
        "–100 %",
        "Open for Curlew",
        "not calibrated",
        "Needs you now",
    ):
        assert text in page


def test_an_observer_sees_no_button_to_open(cast, gate):
    page = page_of(cast.as_observer.get("/"))
    assert "Curlew" in page and "Open for" not in page


def test_nobody_is_met_with_two_doors(cast):
    page = page_of(cast.as_nobody.get("/"))
    assert reverse("team_sign_in") in page and reverse("account_login") in page


def test_a_club_without_missions_is_told_where_to_begin(cast):
    page = page_of(cast.as_coach.get("/"))
    assert "as soon as there is a mission" in page and f'href="{reverse("missions")}"><b>' in page


def test_a_fragment_is_sent_only_when_something_changed(cast, gate):
    url = reverse("board_mission", args=[gate.pk])
    first = cast.as_coach.get(url, headers={"HX-Request": "true"})
    assert b"<html" not in first.content and b'id="board"' in first.content
    held = {"HX-Request": "true", "If-None-Match": first["ETag"]}
    assert cast.as_coach.get(url, headers=held).status_code == 304
    open_tier(cast.coach, cast.team_a, cast.editions[0].tier, "", TODAY)
    assert cast.as_coach.get(url, headers=held).status_code == 200


def test_the_wall_has_no_childs_name_nothing_to_send_and_table_order(cast, gate):
    run_days(cast.team_b, cast.editions[0], [True] * 12)
    page = page_of(cast.as_coach.get(reverse("projector", args=[gate.pk])))
    assert cast.member_a.nickname not in page and cast.member_b.nickname not in page
    assert "Open for" not in page and "<form" not in page
    assert page.count("<button") == page.count('<button type="button"') == 2, "pause, and the next screen"
    assert page.index("Curlew") < page.index("Plover")
    assert "Needs" not in page


def queries_of(client, url):
    with CaptureQueriesContext(connection) as queries:
        assert client.get(url).status_code == 200
    return len(queries)


def test_the_board_asks_at_most_twelve_times_whatever_the_club(cast, gate):
    url = reverse("board_mission", args=[gate.pk])
    run_days(cast.team_a, cast.editions[0], [True] * 12, robot=cast.robot_a)
    small = queries_of(cast.as_coach, url)
    for _ in range(5):
        team = make.TeamFactory(club=cast.club)
        make.RobotAssignmentFactory(team=team)
        make.mission_with_tiers(cast.club)
        for edition in cast.editions:
            run_days(team, edition, [True] * 12)
            pass_tier(cast.coach, team, edition.tier, "Shown", TODAY)
    assert queries_of(cast.as_coach, url) == small <= 12


def test_a_quiet_poll_costs_three_queries(cast, gate):
    url = reverse("board_mission", args=[gate.pk])
    etag = cast.as_coach.get(url)["ETag"]
    with CaptureQueriesContext(connection) as queries:
        cast.as_coach.get(url, headers={"HX-Request": "true", "If-None-Match": etag})
    assert len(queries) == 3
