"""The plain robot, worked out by hand in one respect each."""

from __future__ import annotations

import math

import numpy as np
import pytest

from motion.course.actions import Drive, Push, Tool, Turn
from motion.scene.records import Pose
from tests.oracles.plain_robot import Truth, drive, nose_off

START = Pose(100, 200, 0)


def walked(told, **ways):
    return drive(START, told, Truth(**ways), np.random.default_rng(1), 1)[0]


def test_an_exact_robot_goes_where_it_is_told():
    poses = walked([Drive(300), Turn(90, 90), Tool("lower", 1.0), Push(100), Drive(-50)])
    assert poses == pytest.approx(
        np.array([[100, 200, 0], [400, 200, 0], [400, 200, 90], [400, 200, 90], [400, 300, 90], [400, 250, 90]])
    )


def test_a_curve_is_a_true_arc():
    """A quarter of a circle over a metre: its radius is 2 / pi of it."""
    end = walked([Drive(1000)], drift_deg_per_m=90.0)[-1]
    radius = 2000 / math.pi
    assert end == pytest.approx([100 + radius, 200 + radius, 90.0])
    there_and_back = walked([Drive(1000), Drive(-1000)], drift_deg_per_m=90.0)[-1]
    assert there_and_back == pytest.approx([100, 200, 0])


def test_scales_and_bias_are_in_the_direction_of_what_is_told():
    assert walked([Drive(-1000)], scale=1.02)[-1, 0] == pytest.approx(-920)
    assert walked([Turn(-90, -90)], turn_scale=1.1, turn_bias_deg=2.0)[-1, 2] == pytest.approx(-101)
    assert walked([Turn(0, 0)], turn_bias_deg=2.0)[-1, 2] == 0.0


@pytest.mark.parametrize(("yaw", "heading"), [("absolute", 5.0), ("relative", 14.0)])
def test_an_absolute_turn_takes_back_what_went_wrong_before_but_not_the_set_down(yaw, heading):
    told = [Turn(90, 90), Drive(1000), Turn(-90, 0)]
    end = walked(told, turn_bias_deg=-1.0, drift_deg_per_m=10.0, set_down_deg=4.0, yaw=yaw)[-1]
    assert end[2] == pytest.approx(heading)


def test_spreads_are_as_wide_as_they_say():
    robot = Truth(
        scale_sd=0.01, leg_sd_fraction=0.02, turn_sd_deg=0.6, turn_growth_sd_deg=0.4, set_down_sd_mm=3.0, set_down_sd_deg=2.0
    )  # fmt: skip
    poses = drive(START, [Turn(-360, 0), Drive(1000)], robot, np.random.default_rng(2), 200_000)
    assert poses[:, 0].std(axis=0) == pytest.approx([3.0, 3.0, 2.0], rel=0.01)
    assert (poses[:, 1, 2] - poses[:, 0, 2]).std() == pytest.approx(1.0, rel=0.01)
    gone = np.hypot(*(poses[:, 2, :2] - poses[:, 1, :2]).T)
    assert gone.std() == pytest.approx(math.hypot(10, 20), rel=0.01)
    curves = drive(START, [Drive(500)], Truth(drift_sd_deg_per_m=2.0), np.random.default_rng(3), 200_000)
    assert curves[:, 1, 2].std() == pytest.approx(1.0, rel=0.01)


def test_each_run_may_have_a_number_of_its_own():
    poses = drive(START, [Drive(1000)], Truth(scale=np.array([1.0, 0.98])), np.random.default_rng(4), 2)
    assert poses[:, 1, 0] == pytest.approx([1100, 1080])


def test_the_nose_is_swung_aside_by_the_heading():
    """Turned by 90 degrees a nose 200 mm ahead and 15 to the left is 215 short and 185 to the left."""
    should = Pose(500, 400, 90)
    off = nose_off(np.array([[500.0, 400.0, 180.0], [500.0, 410.0, 90.0], [490.0, 400.0, 450.0]]), should, 200.0, 15.0)
    assert off == pytest.approx(np.array([[-215, 185, 90], [10, 0, 0], [0, 10, 0]]))
