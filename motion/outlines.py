"""Where the body passes: swept outlines for drawing. For judging use the kernels or judge.py."""

from __future__ import annotations

import math
from collections.abc import Sequence

from shapely import MultiPoint, Polygon, affinity, unary_union

from motion.clearance import pose_after, poses_of, stages_of
from motion.route import Action, Outline, Tool, Turn
from motion.scene import Pose, Scene

DRAWN_STEP_DEG = 6.0


def swept_outlines(scene: Scene, start: Pose, actions: Sequence[Action]) -> tuple[Outline, ...]:
    """The outline of the true body over each action, none for a wait. Turns are sampled every 6 degrees."""
    poses = poses_of(start, actions)
    outlines = []
    for i, (action, stage) in enumerate(zip(actions, stages_of(actions), strict=True)):
        swept = swept_by(scene, poses[i], action, stage.lowered)
        if swept is None:
            continue
        parts = swept.geoms if hasattr(swept, "geoms") else [swept]
        outlines.append(Outline(i, tuple(tuple((x, y) for x, y in part.exterior.coords[:-1]) for part in parts)))
    return tuple(outlines)


def swept_by(scene: Scene, pose: Pose, action: Action, lowered: bool) -> Polygon | None:
    """What the true body covers during one action from a pose, the tool lowered or not; None for a tool action."""
    if isinstance(action, Tool):
        return None
    footprint = (scene.robot.working_footprint if lowered else None) or scene.robot.footprint
    return _swept(footprint, pose, pose_after(pose, action), isinstance(action, Turn))


def _swept(footprint: tuple[tuple[tuple[float, float], ...], ...], a: Pose, b: Pose, turn: bool) -> Polygon:
    if not turn:
        ends = [[_placed(Polygon(part), pose) for pose in (a, b)] for part in footprint]
        return unary_union([MultiPoint([*p.exterior.coords, *q.exterior.coords]).convex_hull for p, q in ends])
    by = max(-360.0, min(360.0, b.heading_deg - a.heading_deg))  # a second round covers nothing new
    steps = max(1, math.ceil(abs(by) / DRAWN_STEP_DEG))
    headings = [a.heading_deg + by * k / steps for k in range(steps + 1)]
    placed = [_placed(Polygon(part), Pose(a.x_mm, a.y_mm, h)) for part in footprint for h in headings]
    return unary_union(placed).simplify(0.5)


def _placed(part: Polygon, pose: Pose) -> Polygon:
    return affinity.translate(affinity.rotate(part, pose.heading_deg, origin=(0, 0)), pose.x_mm, pose.y_mm)
