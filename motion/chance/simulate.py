"""One run of one robot, step by step: what really happens when a course is driven by a robot with its own ways.

Slow and plain on purpose: it serves the demonstration club, teaching and tests, and shares no code with the Monte Carlo
kernels that it is compared with.
"""

from __future__ import annotations

import math
from collections.abc import Iterable
from dataclasses import dataclass

import numpy as np
from shapely import Polygon as Shape
from shapely import affinity, unary_union

from motion.course.actions import Action, Drive, Push, Turn
from motion.scene.records import Noise, Pose, Scene

STEP_MM = 15.0
STEP_DEG = 4.0


@dataclass(frozen=True)
class Manner:
    """A robot's systematic departures from what it is told, unknown to its team until it measures.

    ``turn_bias_deg`` is added to every turn in the direction of that turn.
    """

    distance_scale: float = 1.0
    turn_scale: float = 1.0
    turn_bias_deg: float = 0.0
    drift_deg_per_m: float = 0.0


@dataclass(frozen=True)
class SimulatedRun:
    """What a watcher would write down. Misses are in the target's frame: along the push, and to its left."""

    poses: tuple[Pose, ...]
    along_mm: float
    lateral_mm: float
    heading_error_deg: float
    done: bool
    home: bool
    left_base: bool
    touched: str  # name of what the body touched first, "" for nothing


def simulate_run(
    scene: Scene, start: Pose, actions: Iterable[Action], manner: Manner, noise: Noise, rng: np.random.Generator
) -> SimulatedRun:
    """Drive a course once.

    Parameters
    ----------
    scene, start, actions
        The course as planned; the robot believes that it starts at ``start``.
    manner
        Its systematic errors; ``noise`` its scatter on top (drawn from ``rng``).

    Returns
    -------
    Run
        After touching something the robot stops there; then it is neither done (unless it was before) nor home.

    Examples
    --------
    A robot that goes one per cent too far, and errs in nothing else, ends a metre 10 mm past where it should.

    >>> from motion.course.example import example_course
    >>> from motion.scene.example import example_scene
    >>> scene, exact = example_scene(), Noise(0, 0, 0, 0, 0, 0)
    >>> far = Manner(distance_scale=1.01)
    >>> run = simulate_run(scene, scene.start, example_course(), far, exact, np.random.default_rng(0))
    >>> round(run.along_mm, 6), run.done, run.home
    (10.0, True, True)
    """
    body = unary_union([Shape(part) for part in scene.robot.footprint])
    things = [(Shape(o.outline), o.name or "an obstacle") for o in (*scene.obstacles, *scene.keep_outs)]
    scale = manner.distance_scale + rng.normal(0, noise.distance_scale_sd)
    x = start.x_mm + rng.normal(0, noise.start_position_sd_mm)
    y = start.y_mm + rng.normal(0, noise.start_position_sd_mm)
    offset = rng.normal(0, noise.start_heading_sd_deg)
    heading = start.heading_deg + offset
    told = start.heading_deg
    poses = [Pose(x, y, heading)]
    touched, meeting, left_base = "", None, False
    base = Shape(scene.base)
    for action in actions:
        before = poses[-1]
        if isinstance(action, Turn):
            error = math.copysign(1.0, action.by_deg) * manner.turn_bias_deg + rng.normal(
                0, math.hypot(noise.turn_sd_deg, noise.turn_growth_sd_deg * math.sqrt(abs(action.by_deg) / 90))
            )
            by = manner.turn_scale * action.by_deg + error
            if noise.yaw_reference == "absolute":  # the yaw sensor takes back what the last leg drifted
                by += math.remainder(told + offset - heading, 360)
            told = action.to_deg
            heading += by
        elif isinstance(action, Drive | Push):
            length = action.distance_mm * scale
            length *= 1 + rng.normal(0, noise.distance_sd_fraction)
            rate = manner.drift_deg_per_m + rng.normal(0, noise.drift_sd_deg_per_m)
            drift = rate * length / 1000  # an arc: backing up takes it back
            middle = math.radians(heading + drift / 2)
            x += length * math.cos(middle)
            y += length * math.sin(middle)
            heading += drift
        after = Pose(x, y, heading)
        poses.append(after)
        swept = list(_between(before, after))
        if isinstance(action, Push):
            meeting = after
        else:
            touched = next((name for shape, name in things for p in swept if _placed(body, p).intersects(shape)), "")
        left_base = left_base or not base.intersects(_placed(body, after))
        if touched:
            break
    along, lateral, turned = _miss(scene, meeting or poses[-1])
    window = scene.target.window
    done = (
        meeting is not None
        and abs(lateral) <= window.lateral_mm
        and abs(turned) <= window.heading_deg
        and -window.short_mm <= along <= window.long_mm
    )
    home = not touched and base.buffer(0.5).covers(_placed(body, poses[-1]))
    return SimulatedRun(tuple(poses), along, lateral, turned, done, home, left_base, touched)


def _placed(body: Shape, pose: Pose) -> Shape:
    turned = affinity.rotate(body, pose.heading_deg, origin=(0, 0))
    return affinity.translate(turned, pose.x_mm, pose.y_mm)


def _between(a: Pose, b: Pose) -> Iterable[Pose]:
    distance = math.hypot(b.x_mm - a.x_mm, b.y_mm - a.y_mm)
    steps = max(1, math.ceil(distance / STEP_MM), math.ceil(abs(b.heading_deg - a.heading_deg) / STEP_DEG))
    for k in range(1, steps + 1):
        t = k / steps
        yield Pose(
            a.x_mm + t * (b.x_mm - a.x_mm),
            a.y_mm + t * (b.y_mm - a.y_mm),
            a.heading_deg + t * (b.heading_deg - a.heading_deg),
        )


def _miss(scene: Scene, pose: Pose) -> tuple[float, float, float]:
    """Where the robot's nose was at the end of its push against where it should have been: along, to the left, heading."""
    aim = scene.target.precontact
    corners = [corner for part in scene.robot.working_footprint or scene.robot.footprint for corner in part]
    reach = max(x for x, _ in corners)
    face = [y for x, y in corners if x > reach - 1]
    nose = np.array([reach, (min(face) + max(face)) / 2])
    stands, should = (_matrix(p.heading_deg) @ nose + (p.x_mm, p.y_mm) for p in (pose, aim))
    along, lateral = _matrix(-aim.heading_deg) @ (stands - should)
    turned = (pose.heading_deg - aim.heading_deg + 180) % 360 - 180
    return float(along) - scene.target.push_leg_mm, float(lateral), turned


def _matrix(heading_deg: float) -> np.ndarray:
    c, s = math.cos(math.radians(heading_deg)), math.sin(math.radians(heading_deg))
    return np.array([[c, -s], [s, c]])
