"""Small scenes and random ones for the tests of motion, built in code."""

from __future__ import annotations

import math
from pathlib import Path

import numpy as np
from shapely.geometry import Polygon as ShapelyPolygon

from motion.scene.records import Noise, Obstacle, Polygon, Pose, RobotSpec, Scene, Target, Window

#: Ten scenes with the best costs known for them (upper bounds found by several methods).
SCENES = sorted((Path(__file__).parents[2] / "fixtures" / "scenes").glob("*.json"))

FOOTPRINT: tuple[Polygon, ...] = (
    ((-50, -75), (150, -75), (150, 75), (-50, 75)),
    ((150, -10), (200, -10), (200, 40), (150, 40)),
)

ROBOT = RobotSpec(
    footprint=FOOTPRINT,
    speed_mm_s=250,
    acceleration_mm_s2=500,
    push_speed_mm_s=120,
    turn_rate_deg_s=150,
    turn_acceleration_deg_s2=500,
    settle_s=0.25,
    min_leg_mm=20,
    min_back_off_mm=40,
    distance_step_mm=10,
    turn_step_deg=1,
)

NOISE = Noise(
    distance_scale_sd=0.01,
    start_position_sd_mm=3,
    start_heading_sd_deg=1,
    turn_sd_deg=1.2,
    drift_sd_deg_per_m=1.0,
    distance_sd_fraction=0.004,
)


def box(x: float, y: float, width: float, depth: float) -> Polygon:
    return ((x, y), (x + width, y), (x + width, y + depth), (x, y + depth))


def target_at(x: float, y: float, heading_deg: float, *, name: str = "") -> Target:
    """A 60 mm square target that the robot's nose (200 mm ahead, 15 mm to the left) meets from a pre-contact pose."""
    h = math.radians(heading_deg)

    def place(along: float, left: float) -> tuple[float, float]:
        return (x + along * math.cos(h) - left * math.sin(h), y + along * math.sin(h) + left * math.cos(h))

    body = tuple(place(a, b) for a, b in ((230, -15), (290, -15), (290, 45), (230, 45)))
    return Target(body, Pose(x, y, heading_deg), 30, 60, Window(22, 5, 20, 30), name)


def plain_scene(**changes) -> Scene:
    """A 2.4 m table with a target to the right and nothing in the way."""
    values = {
        "width_mm": 2400.0,
        "depth_mm": 1200.0,
        "base": box(0, 0, 500, 450),
        "start": Pose(120, 120, 90),
        "target": target_at(1600, 600, 0),
        "obstacles": (),
        "robot": ROBOT,
        "noise": NOISE,
        "margin_mm": 3.0,
    }
    return Scene(**(values | changes))


def random_blob(rng: np.random.Generator, width: float, depth: float) -> Polygon:
    """A star-shaped polygon, often not convex, somewhere on the table."""
    while True:
        n = int(rng.integers(3, 8))
        x, y = rng.uniform([0, 0], [width, depth])
        angle = np.sort(rng.uniform(0, 2 * np.pi, n))
        radius = rng.uniform(30, 160, n)
        ring = tuple((x + r * math.cos(a), y + r * math.sin(a)) for a, r in zip(angle, radius, strict=True))
        if ShapelyPolygon(ring).is_valid and ShapelyPolygon(ring).area > 200:
            return ring


def many_scene(count: int = 2, **changes) -> Scene:
    """The plain scene with two obstacles and two or three targets, each in another direction."""
    more = (target_at(900, 800, 90, name="crate"), target_at(1900, 300, -30, name="buoy"))[: count - 1]
    obstacles = (Obstacle(box(1000, 350, 150, 250), "gravel bank"), Obstacle(box(500, 700, 150, 150), "reef"))
    values = {"target": target_at(1600, 700, 0, name="fog bell"), "more_targets": more, "obstacles": obstacles}
    return plain_scene(**(values | changes))
