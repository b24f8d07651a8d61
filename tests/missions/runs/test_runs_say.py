"""What the runs say: which runs count, and the plain numbers that every page says of them."""

from __future__ import annotations

import datetime as dt
import json
import random

import pytest

from classroom.robots.robot_at import HeldRobot
from missions.models import Attempt
from missions.readiness.services.evidence import refresh_evidence, said_runs
from missions.runs.rules.runs_say import LAST, NOTHING_SAID, SaidRun, keep_run, kept_since, newest, say
from tests import factories as make

WINDOW = {"lateral_mm": 60, "short_mm": 20, "long_mm": 30}


def runs(*misses, clean=False):
    return [SaidRun(float(i), i, clean, *miss) for i, miss in enumerate(misses)]


def words(*misses, unit="cm"):
    return say(runs(*misses), WINDOW).landing_in_words(unit)


def test_a_side_that_stands_out_is_said_in_the_clubs_unit():
    misses = [(40, 0), (45, 2), (38, -2), (44, 1)]
    assert words(*misses) == "lands 4.2 cm left (4 runs measured)"
    assert words(*misses, unit="in").startswith("lands 1.6 in left")


def test_both_directions_are_said_when_both_stand_out():
    assert words((-40, -18), (-45, -19), (-38, -17)) == "lands 4.1 cm right and 1.8 cm short (3 runs measured)"


def test_too_far_is_held_against_what_the_window_allows_ahead():
    assert words((0, 16), (1, 15.5), (-1, 15)) == "lands 1.6 cm too far (3 runs measured)"
    assert words((0, 14), (1, 13.5), (-1, 13)) == "lands to no side beyond doubt (3 runs measured)"


def test_scatter_about_the_line_is_no_side():
    assert words((40, 0), (-45, 2), (38, -2), (-35, 0)) == "lands to no side beyond doubt (4 runs measured)"


def test_two_runs_are_too_few_to_tell_a_side():
    assert words((50, 0), (50, 1)) == "lands to no side beyond doubt (2 runs measured)"


def test_a_sure_but_small_miss_is_not_worth_a_word():
    assert not say(runs((10, 0), (10.1, 0), (9.9, 0)), WINDOW).sides


def test_without_a_measured_run_no_landing_is_said():
    found = say(runs((None, None), (None, None)), WINDOW)
    assert (found.runs, found.measured, found.landing_in_words("cm")) == (2, 0, "")
    assert say([], WINDOW) == NOTHING_SAID


def test_runs_are_counted_whether_measured_or_not():
    found = say([*runs((1, 1), (None, 3), clean=True), *runs((None, None))], WINDOW)
    assert (found.runs, found.clean, found.measured) == (3, 2, 2)
    assert found.clean_in_words == "2 of 3 runs"
    assert say(runs(*[(0, 0)] * LAST), WINDOW).clean_in_words == "0 of the last 12 runs"
    assert say(runs((0, 0)), WINDOW).clean_in_words == "0 of 1 run"


def test_the_newest_of_each_robot_are_kept_in_whatever_order_they_come():
    order = list(range(LAST + 5))
    random.Random(3).shuffle(order)
    kept = {}
    for at in order:
        kept = keep_run(kept, 7, SaidRun(float(at), at, True, None, None))
        kept = keep_run(kept, 8, SaidRun(float(at), 100 + at, True, 1.0, None)) if at < 3 else kept
    kept = json.loads(json.dumps(kept))
    assert [run.key for run in kept_since(kept, 7, None)] == list(range(5, LAST + 5))
    assert [run.lateral_mm for run in kept_since(kept, 8, None)] == [1.0] * 3
    assert kept_since(kept, 9, None) == []


def test_runs_before_the_last_change_do_not_count_and_one_in_that_moment_does():
    at = make.NOW
    kept = {}
    for i in range(4):
        kept = keep_run(kept, 7, SaidRun((at + dt.timedelta(minutes=i)).timestamp(), i, True, None, None))
    assert [run.key for run in kept_since(kept, 7, at + dt.timedelta(minutes=2))] == [2, 3]


@pytest.mark.django_db
def test_what_is_kept_and_what_is_asked_of_the_rows_are_the_same_runs(cast):
    """Over invented histories: other robots, runs without a plan, withdrawn ones, clocks that are ahead, calibrations."""
    _, editions = make.mission_with_tiers(cast.club)
    other = make.RobotFactory(club=cast.club)
    progress = make.ProgressFactory(team=cast.team_a, tier=editions[0].tier)
    chance = random.Random(11)
    for _ in range(25):
        Attempt.objects.all().delete()
        progress.evidence, progress.last_run_at = {}, None
        for i in range(chance.randint(1, 30)):
            ahead = dt.timedelta(minutes=chance.choice([0, 0, 0, 40]))
            received = make.NOW + dt.timedelta(minutes=10 * i)
            run = make.AttemptFactory(
                team=cast.team_a,
                tier_version=editions[0],
                robot=chance.choice([cast.robot_a, cast.robot_a, other, None]),
                plan_number=chance.choice([1, 1, 2, None]),
                made_at=received + ahead,
                received_at=received,
                success=chance.random() < 0.5,
                lateral_mm=chance.choice([None, chance.gauss(0, 20)]),
            )
            if chance.random() < 0.1:
                run.withdrawn_at = make.NOW
                run.save()
                refresh_evidence(progress, make.NOW)
            else:
                refresh_evidence(progress, make.NOW, run)
        progress.refresh_from_db()
        at = make.NOW + dt.timedelta(days=1)
        changed = make.NOW + dt.timedelta(minutes=chance.randint(0, 200))
        cast.robot_a.changed_at = changed
        for robot, calibrated in ((cast.robot_a, None), (other, changed)):
            held = HeldRobot(robot, False, None, None, calibrated)
            asked = Attempt.objects.since_change({cast.team_a.pk: held}, at).filter(tier=editions[0].tier)
            kept = newest(said_runs(progress.evidence, held, at))
            assert [run.key for run in kept] == [run.pk for run in reversed(asked[:LAST])]
