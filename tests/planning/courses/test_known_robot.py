"""What a robot's calibrations and runs say together reaches every chance: cards, drafts, jobs and time limits."""

from __future__ import annotations

import datetime as dt
from dataclasses import replace
from typing import Any

import pytest

from classroom.robots.numbers import numbers_for
from classroom.robots.services.calibrate import record_calibration
from missions.models import Attempt
from motion.check import check_course
from planning.courses.learned import known_robot, runs_since_change
from planning.courses.pages.card import CourseCard, card_of
from planning.courses.rules.known_robot import PLANNER_HYPOTHESES, KnownRobot, known_to_json, scene_with_known
from planning.courses.scene_for import pose_of, scene_for
from planning.courses.services.ask_for_course import ask_for_course
from planning.courses.services.plan_team_course import find_courses
from planning.courses.services.save_revision import save_revision
from planning.models import Course
from tests import factories as make
from tests.planning.planned_courses import THERE_AND_BACK, planned

pytestmark = pytest.mark.django_db

HOUR = dt.timedelta(hours=1)
#: A metre that ends 43.6 mm left of straight ahead has curved by 2 x 43.6 mrad, 5.0 degrees.
CURVING = [{"commanded_mm": 1000, "measured_mm": 1000 + n % 2, "sideways_mm": 43.6 + (-1) ** n} for n in range(6)]


@pytest.fixture
def tiers(cast: Any) -> Any:
    return make.mission_with_tiers(cast.club)[1]


@pytest.fixture
def course(cast: Any, tiers: Any) -> Course:
    return planned(cast.team_a, tiers[0], cast.robot_a)


def known(robot: Any) -> KnownRobot:
    return known_robot(robot, numbers_for(robot))


def run_of(course: Course, at: dt.datetime = make.NOW, **more: Any) -> Attempt:
    given = {"team": course.team, "tier_version": course.tier_version, "robot": course.robot} | more
    made: Attempt = make.AttemptFactory(made_at=at, plan_number=course.number, **given)
    return made


def fresh(course: Course) -> CourseCard:
    return card_of(Course.objects.for_cards().get(pk=course.pk))


# A curve


def test_of_a_robot_that_curves_a_course_that_allows_for_it_has_a_far_higher_chance(cast: Any, tiers: Any) -> None:
    """Over its first leg of 1.59 m it turns by 8 degrees: the chord leads 4 degrees, 111 mm, left of the gate's 60."""
    record_calibration(cast.robot_a, "straight", "mat", CURVING, now=make.NOW)
    allowed = fresh(planned(cast.team_a, tiers[0], cast.robot_a))
    start = pose_of(tiers[0].version.start)
    own = fresh(save_revision(cast.team_a, tiers[0], cast.robot_a, start, THERE_AND_BACK, now=make.NOW))
    assert [row.turn for row in own.rows if row.kind == "turn"][:2] == ["13°", "0°"], "as the team typed it"
    # 13 less 4 for the chord; then to look along the push: half of 5 degrees over its 9 cm are 0.2.
    assert [row.turn for row in allowed.rows if row.kind == "turn"][:2] == ["9°", "0°"]
    assert allowed.check.success is not None and own.check.success is not None
    assert own.check.success.probability < 0.2 < allowed.check.success.probability - 0.4


# Runs


def test_runs_of_every_team_that_had_the_robot_count(cast: Any, course: Course) -> None:
    other = planned(cast.team_b, course.tier_version, cast.robot_a)
    run_of(course)
    run_of(other)
    assert known(cast.robot_a).runs == 2


def test_runs_of_another_robot_without_a_plan_or_of_a_plan_that_is_not_kept_do_not_count(
    cast: Any, course: Course
) -> None:
    run_of(course, robot=make.RobotFactory(club=cast.club))
    make.AttemptFactory(team=cast.team_a, tier_version=course.tier_version, robot=cast.robot_a)
    make.AttemptFactory(team=cast.team_a, tier_version=course.tier_version, robot=cast.robot_a, plan_number=7)
    assert known(cast.robot_a).runs == 0


def test_runs_before_the_newest_calibration_or_the_last_change_do_not_count(cast: Any, course: Course) -> None:
    run_of(course)
    later = run_of(course, make.NOW + 2 * HOUR)
    record_calibration(cast.robot_a, "straight", "mat", CURVING, now=make.NOW + HOUR)
    (of_course,) = runs_since_change(cast.robot_a, numbers_for(cast.robot_a))
    assert (of_course.course, of_course.runs) == (course, (later,))
    cast.robot_a.changed_at = make.NOW + 3 * HOUR
    assert known(cast.robot_a).runs == 0


def test_a_run_that_is_withdrawn_or_put_right_counts_no_more_or_as_it_now_stands(cast: Any, course: Course) -> None:
    taken_back, wrong = run_of(course), run_of(course, make.NOW + HOUR)
    assert known(cast.robot_a).runs == 2, "and is remembered so"
    Attempt.objects.filter(pk=taken_back.pk).update(withdrawn_at=make.NOW)
    right = run_of(course, make.NOW + HOUR, success=False)
    Attempt.objects.filter(pk=wrong.pk).update(replaced_by=right)
    (of_course,) = runs_since_change(cast.robot_a, numbers_for(cast.robot_a))
    assert of_course.runs == (right,)
    assert known(cast.robot_a).runs == 1


def test_what_was_remembered_changes_with_a_new_run_and_misses_move_what_is_expected(cast: Any, course: Course) -> None:
    """Eight runs that met the gate 40 mm too far left: of all that could be, what leads left grows likelier."""
    before = known(cast.robot_a)
    assert repr(known(cast.robot_a)) == repr(before), "the same until something is new"
    for n in range(8):
        run_of(course, make.NOW + n * HOUR, lateral_mm=40.0, along_mm=0.0)
        after = known(cast.robot_a)
        assert after.runs == n + 1 and repr(after) != repr(before)
        before = after
    start, scene = pose_of(course.start), scene_for(course.tier_version, cast.robot_a)
    led = replace(scene, systematic=after.hypotheses.expected())
    landing = check_course(led, start, THERE_AND_BACK, quick=True, told=THERE_AND_BACK).landing
    assert landing is not None and 20 < landing.lateral_mm < 45


def test_a_planners_plan_is_run_by_the_numbers_of_the_day_not_by_those_it_was_made_for(
    cast: Any, course: Course
) -> None:
    """Measured since, other numbers are typed that take it the planned way: misses of nothing speak for no curve left."""
    record_calibration(cast.robot_a, "straight", "mat", CURVING, now=make.NOW)
    for n in range(8):
        run_of(course, make.NOW + (n + 1) * HOUR, lateral_mm=0.0, along_mm=0.0)
    expected = known(cast.robot_a).hypotheses.expected()
    assert expected.drift_deg_per_m == pytest.approx(5.0, abs=0.5)


# A time limit


def test_a_chance_on_a_timed_tier_holds_its_limit(cast: Any, tiers: Any) -> None:
    course = planned(cast.team_a, tiers[0], cast.robot_a)
    whole = fresh(course).check
    assert whole.success is not None and whole.success.probability > 0.3
    chances = {}
    for share in (0.3, 1.0, 3.0):
        tiers[0].time_limit_s = share * whole.duration_s
        tiers[0].save()
        found = fresh(course).check.success
        assert found is not None
        chances[share] = found.probability / whole.success.probability
    assert chances[0.3] < 1e-6
    assert chances[1.0] == pytest.approx(0.5), "it is as likely slower as quicker than predicted"
    assert chances[3.0] == pytest.approx(1.0, abs=1e-6)


def test_runs_that_took_longer_than_predicted_take_from_the_chance_to_keep_a_limit(cast: Any, tiers: Any) -> None:
    course = planned(cast.team_a, tiers[0], cast.robot_a)
    seconds = fresh(course).check.duration_s
    tiers[0].time_limit_s = 1.1 * seconds
    tiers[0].save()
    before = fresh(course).check.success
    for n in range(20):
        run_of(course, make.NOW + n * HOUR, duration_s=1.3 * seconds)
    run_of(course, make.NOW, duration_s=9 * seconds, success=False)
    assert known(cast.robot_a).pace.factor == pytest.approx(1.3, abs=0.03), "the run that failed says nothing of pace"
    after = fresh(course).check.success
    assert before is not None and after is not None
    assert after.probability < 0.2 * before.probability


# A job


def test_a_jobs_input_carries_what_is_known_and_the_planner_uses_it(cast: Any, tiers: Any, course: Course) -> None:
    job = ask_for_course(cast.coach, cast.team_a, tiers[2], "fastest", make.NOW)
    kept = job.input["known"]
    assert len(kept["spreads"]) == len(kept["systematic"]) == PLANNER_HYPOTHESES
    assert kept["time_limit_s"] == 75.0
    run_of(course, lateral_mm=30.0)
    again = ask_for_course(cast.coach, cast.team_a, tiers[2], "fastest", make.NOW)
    assert again.pk != job.pk and again.input["known"] != kept, "another run, another question"

    class Control:
        def tell(self, *_: Any) -> None: ...
        def seconds_left(self) -> float:
            return 60.0

        def stopped(self) -> bool:
            return False

    def chance(**more: Any) -> float:
        found = find_courses(job.input | {"known": kept | more}, Control())  # type: ignore[arg-type]
        return float(found["courses"][0]["check"]["success"]["probability"])

    assert chance() > 0.1
    assert chance(time_limit_s=1.0) < 1e-6
    assert chance(spreads=[[30 * value for value in row] for row in kept["spreads"]]) < 0.5 * chance()


def test_what_is_known_goes_into_a_job_and_out_again(cast: Any, tiers: Any) -> None:
    robot = known(cast.robot_a)
    scene = scene_for(tiers[2], cast.robot_a)
    back = scene_with_known(scene, known_to_json(robot, 75.0))
    few = robot.hypotheses.thinned(PLANNER_HYPOTHESES)
    assert back.hypotheses is not None
    assert back.hypotheses.spreads == pytest.approx(few.spreads, abs=1e-5)
    assert back.hypotheses.systematic == pytest.approx(few.systematic, abs=1e-5)
    assert (back.time_limit_s, back.pace.factor) == (75.0, 1.0)
    assert scene_with_known(scene, None) is scene, "a job from before there was any"
