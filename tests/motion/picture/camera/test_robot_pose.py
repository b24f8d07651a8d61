"""A robot by the mark on its top, against pictures whose truth is known."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from motion.errors import FitError, MotionCode
from motion.picture.camera.laid import PAPER_SD_MM, SCALE_SD, SeenMark
from motion.picture.camera.measured import measure_table
from motion.picture.camera.robot_pose import (
    FIXED_SD_DEG,
    FIXED_SD_MM,
    HEIGHT_SD_MM,
    RobotMark,
    SeenRobot,
    see_robot,
)
from tests.motion.picture.camera.pictures import CAMERA, DEPTH_MM, LAID, SIZE_PX, WIDTH_MM, by_hand, sights
from tests.oracles.plain_camera import PlainCamera, held
from tests.oracles.plain_marks import TrueSquare

MARK = RobotMark(9, 60.0, 110.0, ahead_mm=30.0, left_mm=-8.0)
TABLE = measure_table(LAID, sights(), SIZE_PX, WIDTH_MM, DEPTH_MM)


def on_top(x: float, y: float, heading_deg: float, mark: RobotMark = MARK, rng=None) -> TrueSquare:
    """The mark of a robot that stands there; as hands fix and measure it, where there is chance."""
    way = complex(math.cos(math.radians(heading_deg)), math.sin(math.radians(heading_deg)))
    ahead, left, askew, lift, print_off = (
        rng.normal(0.0, (FIXED_SD_MM, FIXED_SD_MM, math.radians(FIXED_SD_DEG), HEIGHT_SD_MM, SCALE_SD))
        if rng
        else np.zeros(5)
    )
    middle = complex(x, y) + way * complex(mark.ahead_mm + ahead, mark.left_mm + left)
    return TrueSquare(
        mark.number,
        middle.real,
        middle.imag,
        math.radians(heading_deg) - math.pi / 2 + askew,
        mark.side_mm * (1.0 + print_off),
        mark.height_mm + lift,
        np.column_stack([rng.normal(0.0, PAPER_SD_MM, (4, 2)), np.zeros(4)]) if rng else None,
    )


def seen_on(x: float, y: float, heading_deg: float, camera: PlainCamera = CAMERA) -> SeenRobot:
    return see_robot(TABLE, MARK, SeenMark(9, on_top(x, y, heading_deg).seen(camera), 0.2))


@settings(max_examples=40, deadline=None)
@given(st.floats(200.0, 2200.0), st.floats(150.0, 1050.0), st.floats(-180.0, 180.0))
def test_a_pose_comes_back_wherever_the_robot_stands(x, y, heading):
    found = seen_on(x, y, heading).pose
    assert math.hypot(found.x_mm - x, found.y_mm - y) < 1.0
    assert abs(math.remainder(found.heading_deg - heading, 360.0)) < 0.1


def test_the_truth_is_inside_the_said_range_as_often_as_is_said():
    rng = np.random.default_rng(4)
    inside, off = [], []
    while len(inside) < 120:
        camera = held(rng, (WIDTH_MM, DEPTH_MM), SIZE_PX, (25.0, 40.0))
        try:
            table = measure_table(LAID, sights(camera, by_hand(rng), rng=rng), SIZE_PX, WIDTH_MM, DEPTH_MM)
        except FitError:
            continue
        x, y, heading = rng.uniform((300.0, 200.0, -180.0), (2100.0, 1000.0, 180.0))
        corners = on_top(x, y, heading, rng=rng).seen(camera) + rng.normal(0.0, 0.3, (4, 2))
        found = see_robot(table, MARK, SeenMark(9, corners, 0.3))
        error = (found.pose.x_mm - x, found.pose.y_mm - y, math.remainder(found.pose.heading_deg - heading, 360.0))
        inside.append(np.mean(np.abs(error) < np.array(found.half_ranges())))
        off.append((math.hypot(*error[:2]), abs(error[2])))
    assert 0.91 < np.mean(inside) < 0.985
    assert np.median(off, axis=0)[0] < 3.0 and np.percentile(off, 95, axis=0)[1] < 1.5


def test_the_unsure_height_is_said():
    found = see_robot(TABLE, MARK, SeenMark(9, on_top(1200.0, 600.0, 0.0).seen(CAMERA), 0.2))
    rough = replace(MARK, height_sd_mm=10.0)
    rougher = see_robot(TABLE, rough, SeenMark(9, on_top(1200.0, 600.0, 0.0).seen(CAMERA), 0.2))
    assert rougher.half_ranges()[1] > found.half_ranges()[1]


def test_a_robots_mark_that_is_bent_or_of_another_size_is_refused():
    bent = replace(on_top(1200.0, 600.0, 10.0), lifted=np.array([[0.0, 0.0, 15.0], [0.0] * 3, [0.0] * 3, [0.0] * 3]))
    small = on_top(1200.0, 600.0, 10.0, replace(MARK, side_mm=50.0))
    for square in (bent, small):
        with pytest.raises(FitError) as refused:
            see_robot(TABLE, MARK, SeenMark(9, square.seen(CAMERA), 0.2))
        assert refused.value.code == MotionCode.MARK_BENT


def test_a_blurred_robots_mark_is_refused():
    with pytest.raises(FitError) as refused:
        see_robot(TABLE, MARK, SeenMark(9, on_top(1200.0, 600.0, 10.0).seen(CAMERA), 6.0))
    assert refused.value.code == MotionCode.UNCLEAR
