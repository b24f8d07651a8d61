"""Where the body passes: swept outlines for drawing. For judging use the kernels or judge.py."""

from __future__ import annotations

import math
from collections.abc import Sequence

from shapely import MultiPoint, Polygon, affinity, unary_union

from motion.clearance import poses_of, stages_of
from motion.route import Action, Outline, Tool, Turn
from motion.scene import Pose, Scene

DRAWN_STEP_DEG = 6.0


def swept_outlines(scene: Scene, start: Pose, actions: Sequence[Action]) -> tuple[Outline, ...]:
    """The outline of the true body over each action, none for a wait. Turns are sampled every 6 degrees."""
    poses = poses_of(start, actions)
    outlines = []
    for i, (action, stage) in enumerate(zip(actions, stages_of(actions), strict=True)):
        if isinstance(action, Tool):
            continue
        working = scene.robot.working_footprint if stage.lowered else None
        swept = _swept(working or scene.robot.footprint, poses[i], poses[i + 1], isinstance(action, Turn))
        parts = swept.geoms if hasattr(swept, "geoms") else [swept]
        outlines.append(Outline(i, tuple(tuple((x, y) for x, y in part.exterior.coords[:-1]) for part in parts)))
    return tuple(outlines)


def _swept(footprint: tuple[tuple[tuple[float, float], ...], ...], a: Pose, b: Pose, turn: bool) -> Polygon:
    if not turn:
        ends = [[_placed(Polygon(part), pose) for pose in (a, b)] for part in footprint]
        return unary_union([MultiPoint([*p.exterior.coords, *q.exterior.coords]).convex_hull for p, q in ends])
    steps = max(1, math.ceil(abs(b.heading_deg - a.heading_deg) / DRAWN_STEP_DEG))
    headings = [a.heading_deg + (b.heading_deg - a.heading_deg) * k / steps for k in range(steps + 1)]
    placed = [_placed(Polygon(part), Pose(a.x_mm, a.y_mm, h)) for part in footprint for h in headings]
    return unary_union(placed).simplify(0.5)


def _placed(part: Polygon, pose: Pose) -> Polygon:
    return affinity.translate(affinity.rotate(part, pose.heading_deg, origin=(0, 0)), pose.x_mm, pose.y_mm)
