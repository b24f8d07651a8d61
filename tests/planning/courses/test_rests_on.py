"""A chance says part by part what it rests on, in words for a coach and for children."""

from __future__ import annotations

import datetime as dt
from typing import Any

import pytest

from classroom.robots.numbers import numbers_for
from classroom.robots.services.calibrate import record_calibration
from motion.check import check_course
from motion.course.actions import Check
from motion.course.example import example_course
from motion.scene.example import example_scene
from planning.courses.pages.rests_on import rests_on
from tests import factories as make
from tests.classroom.robots.test_calibrate import SPINS, SQUARES, askew

pytestmark = pytest.mark.django_db

FIVE = [{"commanded_mm": 1000, "measured_mm": each} for each in (990, 992, 991, 989, 990)]
CURVING = [run | {"sideways_mm": left} for run, left in zip(FIVE, (20, 25, 22, 18, 24), strict=True)]
SIX_SET_DOWNS = askew(*[(0, left, 0) for left in (1, -1, 0, 2, -2, 0)])


def check(runs: int) -> Check:
    scene = example_scene()
    assert scene.start is not None
    return check_course(scene, scene.start, example_course(), runs=runs)


@pytest.mark.parametrize(
    ("measured", "logged", "words"),
    [
        ({}, 0, "Kit 1 has not been measured yet: all of it is a kit's usual, so take this as a guess."),
        (
            {},
            11,
            "How far it drives, how it turns, how it curves and how it is set down: not measured yet, so a kit's usual. "
            "11 logged runs count as well.",
        ),
        (
            {"straight": FIVE},
            0,
            "How far it drives: 5 straight runs, 18 November. "
            "How it turns, how it curves and how it is set down: not measured yet, so a kit's usual.",
        ),
        (
            {"straight": FIVE},
            1,
            "How far it drives: 5 straight runs, 18 November. "
            "How it turns, how it curves and how it is set down: not measured yet, so a kit's usual. "
            "1 logged run counts as well.",
        ),
        (
            {"straight": CURVING, "spin": SPINS},
            0,
            "How far it drives: 5 straight runs, 18 November. How it turns: 3 spins, 18 November. "
            "How it curves: 5 straight runs, 18 November. How it is set down: not measured yet, so a kit's usual.",
        ),
        (
            {"set_down": SIX_SET_DOWNS},
            0,
            "How it is set down: 6 set-downs, 18 November. "
            "How far it drives, how it turns and how it curves: not measured yet, so a kit's usual.",
        ),
        (
            {"straight": CURVING, "square": SQUARES, "set_down": SIX_SET_DOWNS},
            11,
            "How far it drives: 5 straight runs, 18 November. How it turns: 10 square paths, 18 November. "
            "How it curves: 5 straight runs, 18 November. How it is set down: 6 set-downs, 18 November. "
            "11 logged runs count as well.",
        ),
        # A yaw that wanders at rest is in no prediction.
        (
            {"rest_drift": [{"seconds": 60 * n, "yaw_deg": 0.1 * n} for n in range(4)]},
            0,
            "Kit 1 has not been measured yet: all of it is a kit's usual, so take this as a guess.",
        ),
    ],
)
def test_each_part_says_what_it_rests_on(measured: dict[str, Any], logged: int, words: str) -> None:
    robot = make.RobotFactory(name="Kit 1", track_width_mm=112)
    for kind, runs in measured.items():
        record_calibration(robot, kind, "table mat", runs, now=make.NOW)
    assert rests_on(check(1500), numbers_for(robot), robot.name, logged) == f"From 1,500 pretend runs. {words}"


def test_what_two_distances_tell_of_setting_down_is_the_straight_runs() -> None:
    robot = make.RobotFactory()
    runs = [
        {"commanded_mm": told, "measured_mm": told, "sideways_mm": left}
        for told, left in ((500, 3), (500, 9), (500, 6), (1000, 12), (1000, 30), (1000, 21))
    ]
    record_calibration(robot, "straight", "table mat", runs, now=make.NOW)
    words = rests_on(check(1500), numbers_for(robot), robot.name, 0)
    assert "How it is set down: 6 straight runs, 18 November." in words


def test_days_are_those_of_the_clubs_clock(settings: Any) -> None:
    settings.TIME_ZONE = "Pacific/Auckland"
    robot = make.RobotFactory()
    record_calibration(robot, "straight", "table mat", FIVE, now=make.NOW.replace(hour=20))
    assert "5 straight runs, 19 November" in rests_on(check(1500), numbers_for(robot), robot.name, 0)
    assert dt.date(2026, 11, 18) == make.NOW.date()


def test_a_course_whose_chance_cannot_be_told_says_nothing() -> None:
    scene = example_scene()
    assert scene.start is not None
    unfinished = check_course(scene, scene.start, example_course()[:1])
    robot = make.RobotFactory()
    assert unfinished.success is None and rests_on(unfinished, numbers_for(robot), robot.name, 3) == ""
