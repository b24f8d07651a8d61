"""Where the body passes: swept outlines for drawing. For judging use motion/check.py."""

from __future__ import annotations

import math
from collections.abc import Sequence

import numpy as np
import shapely
from shapely import MultiPoint, Polygon

from motion.course.actions import Action, SweptOutline, Tool, Turn
from motion.ground.clearance import pose_after, poses_of, stages_of
from motion.scene.records import Polygon as Ring
from motion.scene.records import Pose, Scene

DRAWN_STEP_DEG = 6.0


def swept_outlines(scene: Scene, start: Pose, actions: Sequence[Action]) -> tuple[SweptOutline, ...]:
    """The outline of the true body over each action, none for a wait. Turns are sampled every 6 degrees.

    Examples
    --------
    >>> from motion.course.example import example_course
    >>> from motion.scene.example import example_scene
    >>> scene = example_scene()
    >>> [outline.action for outline in swept_outlines(scene, scene.start, [*example_course(), Tool("wait", 2)])]
    [0, 1, 2]
    """
    poses = poses_of(start, actions)
    outlines = []
    for i, (action, stage) in enumerate(zip(actions, stages_of(actions), strict=True)):
        swept = swept_by(scene, poses[i], action, stage.lowered)
        if swept is None:
            continue
        parts = swept.geoms if hasattr(swept, "geoms") else [swept]
        outlines.append(SweptOutline(i, tuple(tuple((x, y) for x, y in part.exterior.coords[:-1]) for part in parts)))
    return tuple(outlines)


def swept_by(scene: Scene, pose: Pose, action: Action, lowered: bool) -> Polygon | None:
    """What the true body covers during one action from a pose, the tool lowered or not; None for a tool action.

    Examples
    --------
    A body 200 mm long and 100 mm wide that drives 900 mm ahead covers 1100 by 100 mm.

    >>> from motion.course.actions import Drive
    >>> from motion.scene.example import example_scene
    >>> swept_by(example_scene(), Pose(150, 250, 0), Drive(900), lowered=False).bounds
    (100.0, 200.0, 1200.0, 300.0)
    """
    if isinstance(action, Tool):
        return None
    footprint = (scene.robot.working_footprint if lowered else None) or scene.robot.footprint
    return _swept(footprint, pose, pose_after(pose, action), isinstance(action, Turn))


def _swept(footprint: tuple[Ring, ...], a: Pose, b: Pose, turn: bool) -> Polygon:
    if not turn:
        ends = [
            np.concatenate([_placed(part, pose, np.array([pose.heading_deg]))[0] for pose in (a, b)])
            for part in footprint
        ]
        return shapely.union_all([MultiPoint(corners).convex_hull for corners in ends])
    by = max(-360.0, min(360.0, b.heading_deg - a.heading_deg))  # a second round covers nothing new
    steps = max(1, math.ceil(abs(by) / DRAWN_STEP_DEG))
    headings = a.heading_deg + by * np.arange(steps + 1) / steps
    placed = [shapely.polygons(_placed(part, a, headings)) for part in footprint]
    return shapely.union_all(np.concatenate(placed)).simplify(0.5)


def _placed(part: Ring, pose: Pose, headings_deg: np.ndarray) -> np.ndarray:
    """Corners (K, N, 2) of a part about a pose's place at each of K headings."""
    h = np.radians(headings_deg)[:, None]
    x, y = np.array(part, dtype=float).T
    return np.stack([pose.x_mm + x * np.cos(h) - y * np.sin(h), pose.y_mm + x * np.sin(h) + y * np.cos(h)], axis=-1)
