"""The frames that phases are searched in: nothing but turned and mirrored, and the same ones however a scene is drawn."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest

from motion.ground.kernels import leg_free
from motion.scene.records import Obstacle, Pose
from motion.search.frames import TableFrame, frames_of
from motion.search.kernels.task import Stand
from motion.search.parts import PartFinder
from motion.search.paths import Way
from motion.search.phases import Caution, Phases, push_end
from tests.motion.scenes import box, plain_scene, target_at

EVERY = [TableFrame(quarters, mirrored) for quarters in range(-2, 3) for mirrored in (False, True)]
HOOK = Obstacle(((700, 250), (1000, 250), (1000, 650), (900, 650), (900, 330), (700, 330)), "hook")


@pytest.mark.parametrize("frame", EVERY)
def test_a_way_brought_into_a_frame_and_back_is_the_same(frame):
    points = np.array([(30.0, 10.0), (-5.0, 70.0)])
    there = frame.points(points)
    assert frame.points_back(there) == pytest.approx(points)
    assert np.hypot(*(there[1] - there[0])) == pytest.approx(np.hypot(*(points[1] - points[0])))
    stand = frame.stand(Stand(30.0, 10.0, 0.4))
    ahead = frame.points(np.array([(30.0 + math.cos(0.4), 10.0 + math.sin(0.4))]))[0]
    assert (stand.x + math.cos(stand.h), stand.y + math.sin(stand.h)) == pytest.approx(tuple(ahead))
    found = Way(3.0, (0.5, -0.2), (40.0,), tuple(map(tuple, there)), (1.0,), stand.h)
    back = frame.way_back(found)
    assert [xy for point in back.points for xy in point] == pytest.approx(points.ravel())
    assert math.remainder(back.last_heading - 0.4, 2 * math.pi) == pytest.approx(0, abs=1e-12)
    assert back.turns == ((-0.5, 0.2) if frame.mirrored else (0.5, -0.2))


@pytest.mark.parametrize("frame", EVERY)
def test_in_every_frame_the_same_legs_are_free(frame):
    scene = plain_scene(obstacles=(HOOK,))
    task = Phases(scene).home_task(Caution(), push_end(scene))
    framed = frame.task(task)
    rng, seen = np.random.default_rng(3), set()
    for _ in range(300):
        x, y, h = rng.uniform(150, 2200), rng.uniform(150, 1050), rng.uniform(-math.pi, math.pi)
        stand, far = frame.stand(Stand(x, y, h)), float(rng.uniform(-300, 300))
        free = leg_free(task.walls, task.body, x, y, math.cos(h), math.sin(h), far)
        same = leg_free(framed.walls, framed.body, stand.x, stand.y, math.cos(stand.h), math.sin(stand.h), far)
        assert same == free
        seen.add(free)
    assert seen == {True, False}
    assert framed.walls.pieces["x_lo"].min() >= framed.walls.edges[0]


@pytest.mark.parametrize("heading", [20, 130, 200, -70])
def test_of_the_two_frames_both_see_the_goal_ahead_and_to_the_left(heading):
    scene = plain_scene(target=target_at(1200, 600, heading), start=Pose(1200 - 800, 500, 0))
    task = Phases(scene).out_task(Caution(), Pose(1100, 500, 0))
    for frame in frames_of(task):
        framed = frame.task(task).trip
        assert framed.goal.x > framed.start.x and framed.goal.y > framed.start.y


def test_a_mirrored_scene_has_ways_of_the_same_cost():
    scene = plain_scene(obstacles=(HOOK,))

    def ring(points):
        return tuple((x, scene.depth_mm - y) for x, y in points)

    def pose(p):
        return Pose(p.x_mm, scene.depth_mm - p.y_mm, -p.heading_deg)

    target = replace(scene.target, body=ring(scene.target.body), precontact=pose(scene.target.precontact))
    body = tuple(tuple((x, -y) for x, y in part) for part in scene.robot.footprint)
    seen = replace(
        scene, base=ring(scene.base), start=pose(scene.start), target=target, obstacles=(Obstacle(ring(HOOK.outline)),),
        robot=replace(scene.robot, footprint=body),
    )  # fmt: skip
    costs = []
    for each in (scene, seen):
        finder = PartFinder(each, exact=True, seed=0, tick=lambda: None)
        costs.append((finder.outs(Caution())[0].seconds, finder.homes(Caution(), push_end(each))[0].seconds))
    assert costs[0] == pytest.approx(costs[1], rel=1e-6)


def test_keeping_a_box_in_a_frame_keeps_its_sides():
    walls = Phases(plain_scene(obstacles=(Obstacle(box(700, 250, 300, 400)),))).ground.out
    turned = TableFrame(1, mirrored=True).walls(walls)
    sides = turned.sides
    along = np.stack([sides["bx"] - sides["ax"], sides["by"] - sides["ay"]], axis=1)
    normals = np.stack([sides["nx"], sides["ny"]], axis=1)
    assert np.abs((along * normals).sum(axis=1)).max() < 1e-9
    assert (along[:, 0] * normals[:, 1] - along[:, 1] * normals[:, 0]).max() < 0, "sides go round counter-clockwise"
    assert sides["support"] == pytest.approx(sides["ax"] * sides["nx"] + sides["ay"] * sides["ny"])
