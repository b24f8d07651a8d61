"""What a run says together with the ones before it: a pattern with its numbers, none, or too few."""

from __future__ import annotations

import datetime as dt
import random
from typing import Any

import pytest
from django.utils import timezone

from classroom.access import TeamSeat
from classroom.models import TabletSession
from classroom.robots.services.calibrate import record_calibration
from missions.models import PlanTry
from motion.course.plain_words import plainly
from planning.team.draft import DraftStep, TeamDraft, first_start
from planning.team.services.keep_draft import keep_draft
from planning.team.what_runs_say import what_runs_say
from tests import factories as make
from tests.pages import page_of
from tests.planning.team.test_course import CLEAR

LATER = make.NOW + dt.timedelta(hours=2)
pytestmark = pytest.mark.django_db


@pytest.fixture
def plan(cast: Any) -> Any:
    _, editions = make.mission_with_tiers(cast.club)
    make.ProgressFactory(team=cast.team_a, tier=editions[1].tier)
    seat = TeamSeat(cast.team_a, TabletSession.objects.get(team=cast.team_a))
    draft = TeamDraft(first_start(editions[1]), tuple(DraftStep(*each) for each in CLEAR))
    return keep_draft(seat, editions[1], cast.robot_a, draft, base=0, now=timezone.now())


def runs(plan: Any, misses: list[tuple[float | None, float | None]], *, after: int = 0, **more: Any) -> Any:
    """One a minute, the first so many minutes after now."""
    for i, (lateral, along) in enumerate(misses):
        last = make.AttemptFactory(
            team=plan.team,
            tier_version=plan.tier_version,
            robot=plan.robot,
            plan_number=plan.number,
            success=False,
            lateral_mm=lateral,
            along_mm=along,
            made_at=make.NOW + dt.timedelta(minutes=after + i),
            **more,
        )
    return last


def test_a_steady_miss_is_a_pattern_with_numbers_to_try(cast: Any, plan: Any) -> None:
    rng = random.Random(5)
    said = what_runs_say(runs(plan, [(rng.gauss(2, 3), rng.gauss(75, 5)) for _ in range(8)]), "cm", LATER)
    assert said is not None and said.verdict == "pattern"
    assert "too long" in said.sentence and "give or take" in said.sentence
    assert said.rows and said.changed
    assert said.measure == "straight"
    shorter = {row.number: row.distance for row in said.rows}
    assert float(shorter[1].split()[0]) < 118
    assert "8 runs" in said.evidence and " mm" not in said.evidence


def test_the_numbers_to_try_are_pinned_to_the_next_runs_as_a_try_of_the_plan(cast: Any, plan: Any) -> None:
    rng = random.Random(5)
    last = runs(plan, [(rng.gauss(2, 3), rng.gauss(75, 5)) for _ in range(8)])
    said = what_runs_say(last, "cm", LATER)
    assert said is not None and said.rows
    for _ in range(2):  # a double tap is one
        page = page_of(cast.as_team_a.post(f"/team/log/{last.uuid}/numbers/", follow=True))
    tried = PlanTry.objects.get()
    assert (tried.plan_number, tried.letter, tried.words) == (
        plan.number,
        "A",
        "the tablet's numbers in steps 1, 3, 8 and 10",
    )
    assert f"Plan {plan.number}, try A." in page and "The numbers to type" in page
    for row in said.rows:
        assert all(typed in tried.numbers[row.number - 1] for typed in (row.turn, row.distance)), "as the card has it"


def test_misses_that_scatter_as_the_robot_does_are_no_pattern(cast: Any, plan: Any) -> None:
    said = what_runs_say(runs(plan, [(6, -4), (-5, 7), (3, 2), (-6, -6), (1, 4)]), "cm", LATER)
    assert said is not None and said.verdict == "no_pattern"
    assert not said.rows


def test_under_three_measured_runs_nothing_is_claimed(cast: Any, plan: Any) -> None:
    said = what_runs_say(runs(plan, [(60, 60), (None, None), (60, 60)]), "cm", LATER)
    assert said is not None and said.verdict == "too_few"
    assert "1 more run" in said.advice


def test_runs_before_a_new_calibration_do_not_count(cast: Any, plan: Any) -> None:
    old = runs(plan, [(0, 75)] * 6)
    measured = [{"commanded_mm": 1000, "measured_mm": 1000 + d} for d in (1, 2, 1)]
    at = make.NOW + dt.timedelta(minutes=10)
    new = record_calibration(plan.robot, "straight", "table", measured, by_team=plan.team, now=at)
    last = runs(plan, [(0, 75)], after=11, calibration=new)
    said = what_runs_say(last, "cm", LATER)
    assert said is not None and (said.verdict, said.says.runs) == ("too_few", 1)
    past = what_runs_say(old, "cm", LATER)
    assert past is not None and past.verdict == "past"
    page = page_of(cast.as_team_a.get(f"/team/log/{old.uuid}/"))
    assert "none of the last 12 with your robot as it is now" in page and "A pattern" not in page


def test_runs_of_another_robot_do_not_count(cast: Any, plan: Any) -> None:
    runs(plan, [(0, 75)] * 6)
    runs(plan, [(0, -75)] * 3, after=10)
    plan.team.attempts.filter(lateral_mm=0, along_mm=-75).update(robot=make.RobotFactory(club=cast.club))
    said = what_runs_say(plan.team.attempts.get(made_at=make.NOW), "cm", LATER)
    assert said is not None and said.says.runs == 6


def test_no_cause_is_not_called_usual_scatter_where_the_runs_land_to_one_side(cast: Any, plan: Any) -> None:
    """Every way of missing is a little off at once: beyond doubt together, and no single cause explains it."""
    rng = random.Random(8)
    sets = [[(rng.gauss(33, 3), rng.gauss(0, 40)) for _ in range(12)] for _ in range(3)]
    for misses in sets:
        plan.team.attempts.all().delete()
        said = what_runs_say(runs(plan, misses), "cm", LATER)
        assert said is not None and said.says.sides
        assert "scatter as widely" not in said.sentence


def test_without_a_plan_or_a_measured_miss_the_page_says_what_is_missing(cast: Any, plan: Any) -> None:
    last = runs(plan, [(None, None)])
    assert what_runs_say(last, "cm", LATER) is None
    assert "Measure where it meets the tide gate" in page_of(cast.as_team_a.get(f"/team/log/{last.uuid}/"))
    last.plan_number = None
    last.save()
    assert "Say which plan you ran" in page_of(cast.as_team_a.get(f"/team/log/{last.uuid}/"))


def test_a_plan_that_never_reaches_the_target_explains_no_miss(cast: Any, plan: Any) -> None:
    plan.actions = plan.actions[:2]
    plan.save()
    last = runs(plan, [(5, 5)] * 4)
    assert what_runs_say(last, "cm", LATER) is None
    assert cast.as_team_a.get(f"/team/log/{last.uuid}/").status_code == 200


def test_the_page_shows_the_pattern_the_numbers_and_where_to_measure(cast: Any, plan: Any) -> None:
    last = runs(plan, [(2, 74), (0, 78), (-3, 71), (1, 76), (2, 75), (0, 74)])
    page = page_of(cast.as_team_a.get(f"/team/log/{last.uuid}/"))
    assert "A pattern" in page and "the numbers to try" in page
    assert "/team/robot/straight/" in page


@pytest.mark.parametrize(
    ("said", "unit", "plain"),
    [
        ("turns come out 3.1 ± 0.7 degrees too big", "cm", "turns come out 3.1 degrees (give or take 0.7) too big"),
        ("it starts 22 ± 6 mm too near", "cm", "it starts 2.2 cm (give or take 0.6 cm) too near"),
        ("on average 40 mm left", "in", "on average 1.6 in left"),
        ("on average 40 mm left", "mm", "on average 40 mm left"),
    ],
)
def test_words_are_put_plainly_in_the_clubs_unit(said: str, unit: str, plain: str) -> None:
    assert plainly(said, unit) == plain


def test_runs_that_fall_shorter_one_after_the_other_name_the_battery_on_the_team_s_page(cast: Any, plan: Any) -> None:
    rng = random.Random(9)
    last = runs(plan, [(rng.gauss(0, 3), 10 - 14 * k + rng.gauss(0, 3)) for k in range(8)])
    said = what_runs_say(last, "cm", LATER)
    assert said is not None and said.verdict == "pattern"
    page = page_of(cast.as_team_a.get(f"/team/log/{last.uuid}/"))
    assert said.sentence in page and "battery" in page


def test_the_same_runs_in_another_order_do_not_name_the_battery(cast: Any, plan: Any) -> None:
    rng = random.Random(9)
    misses = [(rng.gauss(0, 3), 10 - 14 * k + rng.gauss(0, 3)) for k in range(8)]
    said = what_runs_say(runs(plan, [misses[k] for k in (3, 6, 0, 5, 2, 7, 1, 4)]), "cm", LATER)
    assert said is not None and "battery" not in said.sentence
