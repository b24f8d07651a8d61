"""What a robot's calibrations and its logged runs since then say about it together, for every chance that is shown."""

from __future__ import annotations

import datetime as dt
from collections import defaultdict
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from functools import partial
from typing import NamedTuple

from classroom.models import Robot
from classroom.robots.kinds import NUMBERING
from classroom.robots.numbers import RobotNumbers
from missions.models import Attempt
from motion.chance.hypotheses import drawn
from motion.chance.logged import Logged, Miss
from motion.chance.pace import pace_of
from motion.course.times import course_seconds
from planning.courses.remembered import fetch_remembered, key_of, remembered
from planning.courses.rules.known_robot import KnownRobot
from planning.courses.rules.typing import driving
from planning.courses.scene_for import pose_of, scene_for
from planning.courses.told_today import told_today
from planning.models import Course
from planning.preparing.kernels import kernels_ready
from planning.team.measured import edition_of

#: The newest runs say enough: more change nothing that is shown.
MOST_RUNS = 200


#: The runs of a plan: its team, tier and number, how many there are, the key of the newest.
TalliedPlan = tuple[int, int, int, int, int]


class RunKeys(NamedTuple):
    """What tells the runs of a robot from those of another day: from when on, of each plan, and the keys of the courses that
    they drove. Thousands of runs are behind a page of cards: the database counts them.
    """

    since: dt.datetime
    plans: tuple[TalliedPlan, ...]
    courses: tuple[int, ...]


@dataclass(frozen=True)
class RunsOfCourse:
    """The runs that a robot made of one course since it was last changed, oldest first."""

    course: Course
    runs: tuple[Attempt, ...]


def runs_since_change(robot: Robot, numbers: RobotNumbers) -> list[RunsOfCourse]:
    """Of every team that had the robot, of every course that is known. Two queries, one when there are no runs.

    Measuring how far it goes and turns changes the numbers to type, and the runs begin anew; measuring how it is set
    down changes nothing.
    """
    attempts = list(Attempt.objects.of_robot_since(robot, _changed_at(robot, numbers))[:MOST_RUNS])
    if not attempts:
        return []
    courses = {
        (course.team_id, course.tier_version.tier_id, course.number): course
        for course in Course.objects.run_in(attempts)
    }
    by_course: dict[int, list[Attempt]] = defaultdict(list)
    found = {course.pk: course for course in courses.values()}
    for attempt in reversed(attempts):
        course = courses.get((attempt.team_id, attempt.tier_id, attempt.plan_number or 0))
        if course is not None:
            by_course[course.pk].append(attempt)
    return [RunsOfCourse(found[pk], tuple(runs)) for pk, runs in by_course.items()]


def _changed_at(robot: Robot, numbers: RobotNumbers) -> dt.datetime:
    """When it was built differently, or measured to go or turn differently, last."""
    measured = (one.measured_at for kind, one in numbers.in_force.items() if kind in NUMBERING)
    return max([robot.changed_at, *measured])


def known_robot(robot: Robot, numbers: RobotNumbers) -> KnownRobot:
    """What is known of a robot today. Remembered until it is measured or run again."""
    return known_robots([(robot, numbers)])[robot.pk]


def known_robots(robots: Sequence[tuple[Robot, RobotNumbers]]) -> dict[int, KnownRobot]:
    """``known_robot`` of many, by their key. Two queries and one look at what is remembered, however many they are."""
    ready = kernels_ready()
    run_keys = {robot.pk: runs for (robot, _), runs in zip(robots, _run_keys(robots), strict=True)}
    keys = {
        robot.pk: key_of("robot", f"{robot.pk} {ready} {numbers.knowledge!r} {run_keys[robot.pk]!r}")
        for robot, numbers in robots
    }
    fetch_remembered(keys.values())

    def make(robot: Robot, numbers: RobotNumbers) -> KnownRobot:
        return _learned(robot, numbers, ready=ready, has_run=bool(run_keys[robot.pk].plans))

    return {robot.pk: remembered(keys[robot.pk], partial(make, robot, numbers)) for robot, numbers in robots}


def _learned(robot: Robot, numbers: RobotNumbers, *, ready: bool, has_run: bool) -> KnownRobot:
    runs = runs_since_change(robot, numbers) if has_run else []
    parts = [logged_runs(each.course, robot, numbers, each.runs) for each in runs]
    logged = [part for each in parts for part in each]
    if ready:
        from motion.chance.learning import learned  # late: it brings the kernels in

        hypotheses = learned(numbers.knowledge, logged)
    else:
        hypotheses = drawn(numbers.knowledge, logged)
    ratios = [ratio for each, (whole, *_) in zip(runs, parts, strict=True) for ratio in _ratios(each, whole)]
    return KnownRobot(hypotheses, pace_of(ratios), sum(len(each.runs) for each in runs))


def _ratios(each: RunsOfCourse, logged: Logged) -> list[float]:
    """How many times as long as predicted the runs took that did everything."""
    predicted = course_seconds(logged.scene.robot, logged.actions)[0]
    return [run.duration_s / predicted for run in each.runs if run.duration_s and predicted and worked(run)]


def logged_runs(course: Course, robot: Robot, numbers: RobotNumbers, runs: Iterable[Attempt]) -> list[Logged]:
    """Runs of a course as motion takes them: what the robot was told, where each met the target or whether it worked.

    The whole course comes first; of several targets the misses at each follow as those of the course up to there. The
    runs are of the numbers in force, which are those that were typed for them.
    """
    start = pose_of(course.start)
    drives = driving(told_today(course, robot, numbers), start, robot, numbers)
    runs = list(runs)
    misses = [Miss(run.lateral_mm, run.along_mm, run.heading_error_deg) for run in runs]
    rest = [run for run, miss in zip(runs, misses, strict=True) if not miss.measured]
    scene = scene_for(edition_of(course), robot, numbers=numbers)
    measured = [(run.at_target, miss) for run, miss in zip(runs, misses, strict=True) if miss.measured]
    whole = Logged(
        scene,
        start,
        drives.expected,
        () if scene.more_targets else tuple(miss for _, miss in measured),
        drives.told,
        worked=sum(worked(run) for run in rest),
        unmeasured=len(rest),
    )
    if not scene.more_targets:
        return [whole]
    from motion.chance.logged_at import logged_at  # late: it brings the kernels in

    at_each = [
        logged_at(replace(whole, misses=tuple(miss for at, miss in measured if at == target)), target)
        for target in range(len(scene.targets))
    ]
    return [whole, *(part for part in at_each if part is not None and part.misses)]


def worked(run: Attempt) -> bool:
    """Whether everything was done, however long it took."""
    return all(run.outcomes.values())


def _run_keys(robots: Sequence[tuple[Robot, RobotNumbers]]) -> list[RunKeys]:
    """Of the runs of ``runs_since_change`` and of their courses what tells them from all others: a kept run never changes."""
    since = {robot.pk: _changed_at(robot, numbers) for robot, numbers in robots}
    plans: dict[int, list[TalliedPlan]] = {pk: [] for pk in since}
    for robot_id, team, tier, number, runs, newest in Attempt.objects.tallied_since(since):
        plans[robot_id].append((team, tier, number or 0, runs, newest))
    driven = {plan[:3] for of_robot in plans.values() for plan in of_robot}
    if not driven:
        return [RunKeys(moment, (), ()) for moment in since.values()]
    teams, tiers, numbers = (set(each) for each in zip(*driven, strict=True))
    rows = list(
        Course.objects.filter(team__in=teams, tier_version__tier__in=tiers, number__in=numbers)
        .order_by("pk")
        .values_list("pk", "team", "tier_version__tier", "number")
    )
    return [
        RunKeys(since[robot.pk], tuple(plans[robot.pk]), tuple(_courses_run_in(plans[robot.pk], rows)))
        for robot, _ in robots
    ]


def _courses_run_in(plans: list[TalliedPlan], courses: list[tuple[int, int, int, int]]) -> list[int]:
    driven = {plan[:3] for plan in plans}
    return [pk for pk, *which in courses if tuple(which) in driven]
