"""Scenes nobody chose, of ten kinds that are hard in different ways; the same number gives the same scene."""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import replace
from functools import cache

import numpy as np
from shapely.geometry import Polygon as ShapelyPolygon

from motion.scene.checks import scene_problems
from motion.scene.records import Obstacle, Polygon, Pose, RobotSpec, Scene
from tests.motion.scenes import ROBOT, box, plain_scene, random_blob, target_at

Draw = Callable[[np.random.Generator], Scene]


def _blobs(rng: np.random.Generator, least: int, most: int) -> tuple[Obstacle, ...]:
    return tuple(Obstacle(random_blob(rng, 2400, 1200)) for _ in range(int(rng.integers(least, most + 1))))


def _anywhere(rng: np.random.Generator, **changes) -> Scene:
    """The plain table with a target anywhere on its right two thirds, facing anywhere."""
    target = target_at(*rng.uniform([900, 250], [2050, 950]), float(rng.uniform(-180, 180)))
    start = Pose(180, 180, float(rng.choice([0, 30, 90])))
    return plain_scene(**({"target": target, "start": start} | changes))


def _plain(rng: np.random.Generator) -> Scene:
    return _anywhere(rng, obstacles=_blobs(rng, 1, 4))


def _narrow(rng: np.random.Generator) -> Scene:
    """Two walls across the table, each with a gap that leaves the robot 4 to 30 mm."""
    walls = []
    for x in (float(rng.uniform(600, 760)), float(rng.uniform(1000, 1200))):
        gap, middle = 156 + float(rng.uniform(4, 30)), float(rng.uniform(250, 950))
        walls += [box(x, 0, 60, middle - gap / 2), box(x, middle + gap / 2, 60, 1200 - middle - gap / 2)]
    target = target_at(*rng.uniform([1500, 300], [2050, 900]), float(rng.uniform(-180, 180)))
    return _anywhere(rng, target=target, obstacles=tuple(Obstacle(wall) for wall in walls))


def _concave(rng: np.random.Generator) -> Scene:
    """A body with a notch, its axle off its middle."""
    back, front = -float(rng.uniform(30, 180)), float(rng.uniform(120, 220))
    right, left = -float(rng.uniform(60, 110)), float(rng.uniform(60, 110))
    notch = ((back, right), (front, right), (front, -10), (front - 90, -10), (front - 90, 30), (front, 30))
    robot = replace(ROBOT, footprint=((*notch, (front, left), (back, left)),))
    start = Pose(200 - back, 180, 0)
    return _anywhere(rng, robot=robot, base=box(0, 0, 650, 500), start=start, obstacles=_blobs(rng, 1, 4))


def _kept_out(rng: np.random.Generator) -> Scene:
    return _anywhere(rng, obstacles=_blobs(rng, 1, 2), keep_outs=_blobs(rng, 1, 3))


def _tiny_base(rng: np.random.Generator) -> Scene:
    """A base that the robot fits into with 5 to 40 mm to spare, in one heading and its opposite only."""
    spare = float(rng.uniform(5, 40))
    base = box(0, 0, 250 + 2 * spare, 150 + 2 * spare)
    return _anywhere(rng, base=base, start=Pose(50 + spare, 75 + spare, 0), obstacles=_blobs(rng, 1, 4))


def _big_robot(rng: np.random.Generator) -> Scene:
    size = float(rng.uniform(1.4, 1.8))
    robot = _grown(ROBOT, size)
    target = target_at(0, 0, 0)
    heading = float(rng.uniform(-180, 180))
    x, y = rng.uniform([1000, 400], [1900, 800])
    place = target_at(x, y, heading)
    h, on = math.radians(heading), 200 * (size - 1)
    body = tuple((px + on * math.cos(h), py + on * math.sin(h)) for px, py in place.body)
    target = replace(place, body=body)
    return _anywhere(
        rng, robot=robot, target=target, base=box(0, 0, 600, 600), start=Pose(220, 220, 45), obstacles=_blobs(rng, 1, 2)
    )


def _grown(robot: RobotSpec, size: float) -> RobotSpec:
    return replace(robot, footprint=tuple(tuple((x * size, y * size) for x, y in part) for part in robot.footprint))


def _at_wall(rng: np.random.Generator) -> Scene:
    """A target that is pushed along an edge, the robot's side a centimetre or three from it."""
    far = 75 + float(rng.uniform(8, 30))
    x = float(rng.uniform(900, 1900))
    at = [(x, far, 0.0), (x, 1200 - far, 180.0), (2400 - far, float(rng.uniform(350, 850)), 90.0)]
    target = target_at(*at[int(rng.integers(3))])
    return _anywhere(rng, target=target, obstacles=_blobs(rng, 1, 3))


def _ragged(x: float, y: float, radius: float, corners: int, rng: np.random.Generator) -> Polygon:
    angle = np.arange(corners) * 2 * np.pi / corners
    far = rng.uniform(0.6 * radius, radius, corners)
    return tuple((x + r * math.cos(a), y + r * math.sin(a)) for a, r in zip(angle, far, strict=True))


def _crowded(rng: np.random.Generator) -> Scene:
    """64 obstacles of 64 corners on a table of 4 by 3 m."""
    target = target_at(*rng.uniform([1800, 600], [3400, 2400]), float(rng.uniform(-180, 180)))
    keep, things = [(180.0, 180.0), (target.precontact.x_mm, target.precontact.y_mm)], []
    while len(things) < 64:
        x, y = rng.uniform([60, 60], [3940, 2940])
        if all(math.hypot(x - a, y - b) > 430 for a, b in keep):
            things.append(Obstacle(_ragged(x, y, float(rng.uniform(20, 55)), 64, rng)))
    return _anywhere(rng, width_mm=4000.0, depth_mm=3000.0, target=target, obstacles=tuple(things))


def _hall(rng: np.random.Generator) -> Scene:
    """A table of 20 by 12 m with a dozen large things on it."""
    target = target_at(*rng.uniform([8000, 2000], [18000, 10000]), float(rng.uniform(-180, 180)))
    things = []
    while len(things) < 12:
        ring = random_blob(rng, 2000, 1200)
        things.append(Obstacle(tuple((10 * x, 10 * y) for x, y in ring)))
    return _anywhere(rng, width_mm=20000.0, depth_mm=12000.0, target=target, obstacles=tuple(things))


KINDS: dict[str, Draw] = {
    "plain": _plain,
    "narrow gaps": _narrow,
    "a notched, off-centre body": _concave,
    "keep-outs": _kept_out,
    "a tiny base": _tiny_base,
    "a big robot": _big_robot,
    "a target at an edge": _at_wall,
    "64 obstacles of 64 corners": _crowded,
    "a 20 m table": _hall,
    "a turned robot in a cramped place": lambda rng: _anywhere(rng, obstacles=_blobs(rng, 5, 8)),
}


def kind_of(number: int) -> str:
    """The kind of a scene, by its number."""
    return list(KINDS)[number % len(KINDS)]


@cache
def random_scene(number: int, turn_step_deg: float = 1.0) -> Scene:
    """The scene of a number; it makes sense, but need not be possible."""
    rng = np.random.default_rng(number)
    while True:
        scene = KINDS[kind_of(number)](rng)
        if not scene_problems(scene) and _roomy(scene):
            return replace(scene, robot=replace(scene.robot, turn_step_deg=turn_step_deg), name=f"random {number}")


def _roomy(scene: Scene) -> bool:
    """Whether nothing but the robot's own margin stands at the start, so that what is asked is worth asking."""
    from motion.search.phases import placed

    assert scene.start is not None
    start = placed(scene.robot.footprint, scene.start).buffer(scene.margin_mm + 0.5)
    return not any(start.intersects(ShapelyPolygon(thing.outline)) for thing in (*scene.obstacles, *scene.keep_outs))
