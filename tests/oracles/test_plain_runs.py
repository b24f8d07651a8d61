"""The plain walk over a table against the plain robot that was written apart from it: both end at the same place."""

from __future__ import annotations

import numpy as np
import pytest

from motion.course.actions import Drive, Push, Turn
from motion.scene.records import Pose
from tests.oracles.plain_robot import Truth, drive
from tests.oracles.plain_runs import TrueRobot, _walk

START = Pose(300, 400, 20)
TOLD = (Turn(40, 60), Drive(700), Turn(-95, -35), Drive(-300), Turn(150, 115), Push(90))


@pytest.mark.parametrize("yaw", ["absolute", "relative"])
@pytest.mark.parametrize("way", [1.0, -1.0], ids=["more", "less"])
@pytest.mark.parametrize("of", ["longer", "askew_deg", "wider", "overshoot_deg", "curve"])
def test_each_way_of_going_wrong_ends_at_the_same_place(of, way, yaw):
    off = way * {"longer": 0.03, "askew_deg": 3.0, "wider": 0.02, "overshoot_deg": 4.0, "curve": 6.0}[of]
    still = dict.fromkeys(("length_share", "place_mm", "askew_sd_deg", "turn_deg", "turn_more_deg", "curve_sd"), 0.0)
    steps, push = _walk(START, TOLD, TrueRobot(**still, **{of: off}), yaw, np.random.default_rng(0), 1)
    x, y, heading = steps[-1][-1][0]
    names = {"askew_deg": "set_down_deg", "overshoot_deg": "turn_bias_deg", "curve": "drift_deg_per_m"}
    ways = {"scale": 1 + off} if of == "longer" else {"turn_scale": 1 + off} if of == "wider" else {names[of]: off}
    end = drive(START, TOLD, Truth(**ways, yaw=yaw), np.random.default_rng(0), 1)[0, -1]
    assert push == 5
    assert (x, y, np.degrees(heading)) == pytest.approx(tuple(end), abs=0.05)
