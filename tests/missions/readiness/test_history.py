from __future__ import annotations

import datetime as dt
import uuid

import pytest
from django.urls import reverse

from missions.models import ProgressChange, ProgressState
from missions.readiness.pages.history import read_board_on, state_at
from missions.readiness.services.progress import hold_back, open_tier, pass_tier, reopen
from missions.readiness.services.set_bar import set_tier_bar
from missions.runs.services.record_attempt import AttemptInput, correct_attempt, record_attempt, withdraw_attempt
from tests import factories as make
from tests.pages import page_of

NOW = make.NOW
YES = {"left_base": True, "done": True, "home": True}


def ago(days):
    return NOW - dt.timedelta(days=days)


@pytest.fixture
def term(cast):
    """Curlew: opened 30 days ago, six clean runs 20 days ago, six more 10 days ago, passed 8 days ago."""
    cast.mission, cast.editions = make.mission_with_tiers(cast.club, published_at=ago(40))
    plain = cast.editions[0]
    open_tier(cast.coach, cast.team_a, plain.tier, "", ago(30))
    cast.runs = []
    for i in range(12):
        at = ago(20 if i < 6 else 10) + dt.timedelta(minutes=i)
        run = AttemptInput(uuid.uuid4(), plain.tier_id, at, 40.0, YES)
        cast.runs.append(record_attempt(cast.team_a, run, now=at)[0])
    pass_tier(cast.coach, cast.team_a, plain.tier, "Steady", ago(8))
    return cast


def first_cell(cast, days):
    return read_board_on(cast.club, ago(days).date(), NOW).rows[0].cells[0]


@pytest.mark.parametrize(
    ("days", "word", "runs"),
    [
        (35, "Not open yet", 0),
        (25, "Too few runs to tell", 0),
        (15, "Working", 6),
        (9, "Ready to move up", 12),
        (2, "Passed", 12),
    ],
)
def test_every_day_shows_what_the_board_said_then(term, days, word, runs):
    cell = first_cell(term, days)
    assert cell.chip.word == word
    assert (cell.evidence.runs if cell.evidence else 0) == runs


def test_a_run_that_was_withdrawn_later_counts_as_it_did(term):
    withdraw_attempt(term.runs[0], now=ago(5), by=term.coach)
    assert first_cell(term, 6).evidence.runs == 12
    assert first_cell(term, 4).evidence.runs == 11


def test_a_run_that_was_corrected_later_counts_as_it_was(term):
    miss = AttemptInput(uuid.uuid4(), term.runs[0].tier_id, term.runs[0].made_at, 40.0, YES | {"home": False})
    correct_attempt(term.runs[0], miss, now=ago(5), by=term.team_a)
    assert all(run.success for run in first_cell(term, 6).evidence.strip)
    assert first_cell(term, 4).evidence.history == "0" + first_cell(term, 6).evidence.history[1:]


def test_a_run_that_came_in_late_was_not_known_before(term):
    late = AttemptInput(uuid.uuid4(), term.runs[0].tier_id, ago(12), 40.0, YES)
    record_attempt(term.team_a, late, now=ago(3))
    assert first_cell(term, 5).evidence.runs == 12
    assert first_cell(term, 2).evidence.runs == 13


def test_the_bar_is_the_one_that_was_set_then(term):
    set_tier_bar(term.coach, term.editions[0].tier, {"target": 0.9}, "Harder now", ago(4))
    assert first_cell(term, 9).rung.bar == 65
    assert first_cell(term, 2).rung.bar == 90


def test_a_team_that_was_held_back_is_shown_as_held(term):
    reopen(term.coach, term.team_a, term.editions[0].tier, "Another look", ago(7))
    hold_back(term.coach, term.team_a, term.editions[0].tier, "One table only", ago(6))
    reopen(term.coach, term.team_a, term.editions[0].tier, "Both tables", ago(4))
    assert first_cell(term, 5).chip.word == "Held back"
    assert first_cell(term, 3).chip.word == "Ready to move up"


def test_a_calibration_of_a_later_day_does_not_make_that_day_stale(term):
    make.CalibrationFactory(robot=term.robot_a, measured_at=ago(9) + dt.timedelta(hours=20))
    assert first_cell(term, 10).chip.word == "Ready to move up"


def test_a_mission_version_of_a_later_day_is_not_yet_there(term):
    newer = make.MissionVersionFactory(mission=term.mission, number=2, published_at=ago(5))
    make.TierVersionFactory(tier=term.editions[0].tier, version=newer)
    assert len(read_board_on(term.club, ago(6).date(), NOW).rungs) == 3
    assert len(read_board_on(term.club, ago(4).date(), NOW).rungs) == 1


def test_a_mission_that_was_renamed_later_has_its_name_of_then(term):
    newer = make.MissionVersionFactory(mission=term.mission, number=2, published_at=ago(5), title="Sluice gate")
    make.TierVersionFactory(tier=term.editions[0].tier, version=newer)
    type(term.mission).objects.filter(pk=term.mission.pk).update(title="Sluice gate")
    then, now = (read_board_on(term.club, ago(days).date(), NOW).mission.title for days in (6, 4))
    assert (then, now) == (term.editions[0].version.title, "Sluice gate") and then != now


def test_before_the_first_decision_on_record_the_rows_own_dates_speak():
    progress = make.ProgressFactory.build(state="passed", opened_at=ago(20), passed_at=ago(5), team=None, tier=None)
    assert state_at(progress, [], ago(25)) == ProgressState.NOT_OPEN
    assert state_at(progress, [], ago(10)) == ProgressState.WORKING
    assert state_at(progress, [], ago(1)) == ProgressState.PASSED


def test_before_the_first_decision_it_stood_as_that_decision_found_it():
    change = ProgressChange(from_state="working", to_state="passed", at=ago(5))
    progress = make.ProgressFactory.build(state="passed", opened_at=ago(20), team=None, tier=None)
    assert state_at(progress, [change], ago(10)) == ProgressState.WORKING


def test_history_asks_the_same_number_of_times_whatever_the_club(term, django_assert_num_queries):
    with django_assert_num_queries(11):
        read_board_on(term.club, ago(5).date(), NOW, term.mission.pk)
    for _ in range(4):
        make.RobotAssignmentFactory(team__club=term.club)
    with django_assert_num_queries(11):
        read_board_on(term.club, ago(5).date(), NOW, term.mission.pk)


@pytest.mark.parametrize("day", ["2199-01-01", "1999-01-01", "yesterday", "2026-13-45", ""])
def test_a_day_that_cannot_be_is_refused_and_the_board_of_now_shown(term, day):
    page = page_of(term.as_coach.get(reverse("board_mission", args=[term.mission.pk]), {"on": day}))
    assert "This is what the board said" not in page
    assert "Needs you now" in page
