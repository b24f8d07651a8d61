"""One run of one robot, step by step, where a reader can follow it by head."""

from __future__ import annotations

import math

import numpy as np
import pytest

from motion.chance.simulate import Manner, simulate_run
from motion.course.actions import Drive, Push, Turn
from motion.scene.records import Noise, Pose
from tests.motion.scenes import plain_scene

SILENT = Noise(0, 0, 0, 0, 0, 0)


def one_run(actions, manner=Manner(), noise=SILENT, start=Pose(1000, 600, 0)):  # noqa: B008
    return simulate_run(plain_scene(), start, actions, manner, noise, np.random.default_rng(0))


def test_a_miss_is_that_of_the_nose():
    """Turned by 3 degrees before a push of 90: 290 mm of push and nose swing, the nose 15 mm to the left."""
    run = one_run((Drive(600), Turn(3, 3), Push(90)))
    # sin 3 = 0.0523360, 1 - cos 3 = 0.00137047
    assert run.lateral_mm == pytest.approx(290 * 0.0523360 - 15 * 0.00137047, abs=1e-4)
    assert run.along_mm == pytest.approx(-290 * 0.00137047 - 15 * 0.0523360, abs=1e-4)
    assert run.heading_error_deg == pytest.approx(3)


def test_a_turn_past_the_back_is_not_driven_the_other_way_round():
    """Headings are told from -180 to 180: from 170 by 20 is to -170, and from there by 20 to -150."""
    turns = (Turn(170, 170), Turn(20, -170), Turn(20, -150))
    headings = [pose.heading_deg for pose in one_run(turns).poses]
    assert headings == pytest.approx([0, 170, 190, 210])


def test_a_turns_spread_grows_with_its_angle():
    """0.6 degrees whatever the turn and 0.4 for each right angle: of a full circle, 1 degree in all."""
    noise = Noise(0, 0, 0, 0.6, 0, 0, turn_growth_sd_deg=0.4)
    rng, n = np.random.default_rng(4), 1500
    ends = [
        simulate_run(plain_scene(), Pose(1600, 600, 0), (Turn(360, 0),), Manner(), noise, rng).heading_error_deg
        for _ in range(n)
    ]
    assert np.std(ends) == pytest.approx(1.0, abs=4 / math.sqrt(2 * n))


def test_a_target_that_is_knocked_on_the_way_is_not_done_but_the_robot_goes_on():
    """The gate begins 30 mm ahead of where the push does: a drive of 40 mm too many knocks it, a push the rest of the way."""
    scene = plain_scene()
    aim = scene.target.precontact
    start = Pose(aim.x_mm - 300, aim.y_mm, aim.heading_deg)
    clean = one_run((Drive(300), Push(90), Drive(-300)), start=start)
    knocked = one_run((Drive(340), Push(50), Drive(-300)), start=start)
    assert clean.done and clean.touched == "" and clean.met
    assert knocked.touched == (scene.target.name or "the target") and knocked.met and not knocked.done
    assert knocked.along_mm == pytest.approx(clean.along_mm) and len(knocked.poses) == 4


def test_a_robot_that_drives_over_the_edge_stops_there():
    run = one_run((Drive(-1200), Drive(600)))
    assert run.touched == "the edge of the table" and len(run.poses) == 2
    assert not run.met and not run.clean
