"""How far a robot went between two pictures: against complex numbers, and against pictures of known truth."""

from __future__ import annotations

import cmath
import math
from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from motion.errors import FitError
from motion.picture.camera.laid import SeenMark
from motion.picture.camera.measured import measure_table
from motion.picture.camera.robot_moved import robot_moved
from motion.picture.camera.robot_pose import SeenRobot, see_robot
from motion.scene.records import Pose
from tests.motion.picture.camera.pictures import DEPTH_MM, LAID, SIZE_PX, WIDTH_MM, by_hand, sights
from tests.motion.picture.camera.test_robot_pose import MARK, on_top
from tests.oracles.plain_camera import held
from tests.oracles.plain_marks import ROUND, TrueSquare

FRONT, BACK_LEFT = (120.0, 5.0), (-60.0, 80.0)
poses = st.builds(Pose, st.floats(0.0, 2400.0), st.floats(0.0, 1200.0), st.floats(-180.0, 180.0))


def went(before: Pose, after: Pose, point: tuple[float, float]) -> complex:
    """Where a point of the robot is afterwards, from where it was, as a complex number along the robot as it stood."""

    def place(pose: Pose) -> complex:
        return complex(pose.x_mm, pose.y_mm) + cmath.rect(1.0, math.radians(pose.heading_deg)) * complex(*point)

    return (place(after) - place(before)) / cmath.rect(1.0, math.radians(before.heading_deg))


@given(poses, poses)
def test_points_go_where_complex_numbers_say(before, after):
    found = robot_moved(SeenRobot(before, np.eye(3)), SeenRobot(after, np.eye(3)), [FRONT, BACK_LEFT])
    for (ahead, left), point in zip(found.went_mm, (FRONT, BACK_LEFT), strict=True):
        assert complex(ahead, left) == pytest.approx(went(before, after, point), abs=1e-6)
    assert cmath.rect(1.0, math.radians(found.turned_deg)) == pytest.approx(
        cmath.rect(1.0, math.radians(after.heading_deg - before.heading_deg)), abs=1e-9
    )


@settings(max_examples=30, deadline=None)
@given(poses, poses, st.integers(0, 10_000))
def test_the_covariance_is_that_of_poses_drawn_by_chance(before, after, seed):
    """Twenty thousand pairs with a part that both share, put through the complex numbers one by one."""
    rng = np.random.default_rng(seed)
    shared = rng.normal(0.0, 1.0, (2, 3, 4)) * np.array([0.5, 0.5, 0.05])[:, None]
    own = np.diag([0.4, 0.6, 0.02])
    covariances = [gains @ gains.T + own for gains in shared]
    seen = [SeenRobot(*each) for each in zip((before, after), covariances, shared, strict=True)]
    said = robot_moved(*seen, [FRONT]).covariance
    draws = rng.standard_normal((20_000, 4))
    off = [draws @ gains.T + rng.standard_normal((20_000, 3)) * np.sqrt(np.diag(own)) for gains in shared]
    drawn = [np.array([p.x_mm, p.y_mm, p.heading_deg]) + o for p, o in zip((before, after), off, strict=True)]
    ways = [np.exp(1j * np.radians(each[:, 2])) for each in drawn]
    first, last = (each[:, 0] + 1j * each[:, 1] + way * complex(*FRONT) for each, way in zip(drawn, ways, strict=True))
    gone = (last - first) / ways[0]
    turned = drawn[1][:, 2] - drawn[0][:, 2]
    there = np.cov(np.stack([gone.real, gone.imag, turned]))
    size = np.sqrt(np.diag(said))
    assert np.abs((there - said) / np.outer(size, size)).max() < 0.06


def rotated(square: TrueSquare, by_deg: float) -> TrueSquare:
    """Its paper is off alike wherever the robot stands: it turns with it."""
    assert square.lifted is not None
    c, s = math.cos(math.radians(by_deg)), math.sin(math.radians(by_deg))
    turn = np.array([[c, s, 0.0], [-s, c, 0.0], [0.0, 0.0, 1.0]])
    return replace(square, lifted=square.lifted @ turn)


def pair(rng: np.random.Generator) -> tuple[np.ndarray, np.ndarray, np.ndarray] | None:
    """Errors over half the said ranges (ahead and left of two points, turn), the said ranges, those without what is shared."""
    table = by_hand(rng)
    hands = int(rng.integers(0, 1_000_000))
    start = Pose(*rng.uniform((300.0, 200.0, -180.0), (2100.0, 1000.0, 180.0)).tolist())
    kind = int(rng.integers(0, 3))  # a straight run, a spin, a return to where it stood
    far, turn = ((rng.uniform(200.0, 900.0), rng.normal(0, 2.0)), (0.0, rng.uniform(-180.0, 180.0)), (0.0, 0.0))[kind]
    way = math.radians(start.heading_deg)
    dx, dy = rng.normal(0.0, 8.0, 2)
    end = Pose(
        start.x_mm + far * math.cos(way) + dx,
        start.y_mm + far * math.sin(way) + dy,
        start.heading_deg + turn + rng.normal(0.0, 1.0),
    )
    if not (200.0 < end.x_mm < 2200.0 and 150.0 < end.y_mm < 1050.0):
        return None
    seen = []
    for pose in (start, end):
        camera = held(rng, (WIDTH_MM, DEPTH_MM), SIZE_PX, (25.0, 40.0))
        # The same hands fixed and measured it: chance is begun anew from one number.
        square = on_top(pose.x_mm, pose.y_mm, pose.heading_deg, rng=np.random.default_rng(hands))
        square = rotated(square, pose.heading_deg - 90.0)
        corners = camera.see(square.on_table(ROUND)) + rng.normal(0.0, 0.3, (4, 2))
        try:
            picture = measure_table(LAID, sights(camera, table, rng=rng), SIZE_PX, WIDTH_MM, DEPTH_MM)
            seen.append(see_robot(picture, MARK, SeenMark(9, corners, 0.3)))
        except FitError:
            return None
    found = robot_moved(*seen, [FRONT, BACK_LEFT])
    truth = [went(start, end, point) for point in (FRONT, BACK_LEFT)]
    off = [found.went_mm[i, k] - (each.real, each.imag)[k] for i, each in enumerate(truth) for k in (0, 1)]
    off.append(math.remainder(found.turned_deg - (end.heading_deg - start.heading_deg), 360.0))
    alone = [replace(each, shared=np.zeros((3, 0))) for each in seen]
    half, wide = (
        1.959964 * np.sqrt(np.diag(robot_moved(*each, [FRONT, BACK_LEFT]).covariance)) for each in (seen, alone)
    )
    return np.array(off), half, wide


@pytest.mark.slow
def test_the_truth_is_inside_the_said_range_as_often_as_is_said():
    """Straight runs, spins and returns, each pair of pictures of one table laid and one mark fixed by the same hands."""
    rng = np.random.default_rng(2)
    pairs: list[tuple[np.ndarray, np.ndarray, np.ndarray]] = []
    while len(pairs) < 160:
        found = pair(rng)
        if found is not None:
            pairs.append(found)
    off, half, alone = (np.stack(part) for part in zip(*pairs, strict=True))
    assert 0.93 < np.mean(np.abs(off) < half) < 0.97
    # As if nothing were shared, almost all would be inside a range that is much too wide.
    assert np.mean(np.abs(off) < alone) > 0.985 and np.median(alone / half) > 1.5
