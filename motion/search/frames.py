"""The two frames in which every phase is searched, so that a mirrored or turned scene has the same best course.

Of the eight ways to turn and mirror a table onto its axes two bring the line from start to goal into the first quarter:
one by turning, and that one mirrored at the diagonal. Whichever way a scene is drawn, these two are the same.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, replace

import numpy as np

from motion.ground.geometry import Body, Walls, boxed, corners_of, packed_walls
from motion.search.kernels.task import Stand, Task
from motion.search.paths import Way


@dataclass(frozen=True)
class TableFrame:
    """A turn of the table by whole right angles, then a mirror at the diagonal or none."""

    quarters: int
    mirrored: bool

    def points(self, points: np.ndarray) -> np.ndarray:
        """Points (N, 2) of the table in this frame.

        >>> TableFrame(1, mirrored=False).points(np.array([[3.0, 1.0]])).tolist()
        [[-1.0, 3.0]]
        >>> TableFrame(0, mirrored=True).points(np.array([[3.0, 1.0]])).tolist()
        [[1.0, 3.0]]
        """
        c, s = _COSINES[self.quarters % 4], _COSINES[(self.quarters - 1) % 4]
        turned = np.stack([c * points[:, 0] - s * points[:, 1], s * points[:, 0] + c * points[:, 1]], axis=1)
        return turned[:, ::-1] + 0.0 if self.mirrored else turned + 0.0

    def points_back(self, points: np.ndarray) -> np.ndarray:
        """Points of this frame on the table."""
        turned = points[:, ::-1] if self.mirrored else points
        return TableFrame(-self.quarters, mirrored=False).points(turned)

    def stand(self, stand: Stand) -> Stand:
        """A pose of the table in this frame."""
        ((x, y),) = self.points(np.array([[stand.x, stand.y]])).tolist()
        h = stand.h + self.quarters * math.pi / 2
        return Stand(x, y, math.pi / 2 - h if self.mirrored else h)

    def walls(self, walls: Walls) -> Walls:
        """Walls of the table in this frame."""
        x0, y0, x1, y1 = walls.edges
        ends = self.points(np.array([[x0, y0], [x1, y1]]))
        sides, pieces = _moved(walls.sides, walls.pieces, self.points, self.mirrored)
        outlines = boxed(pieces, walls.outlines["first"], walls.outlines["last"])
        return Walls(sides, pieces, outlines, np.concatenate([ends.min(axis=0), ends.max(axis=0)]))

    def body(self, body: Body) -> Body:
        """A body; its left and right change places in a mirror."""
        if not self.mirrored:
            return body
        sides, parts = _moved(body.sides, body.parts, lambda points: points * (1.0, -1.0), mirrored=True)
        return Body(sides, parts, body.reach)

    def task(self, task: Task) -> Task:
        """A phase in this frame."""
        base = task.homing.base
        ring = self.points(corners_of(base))
        sides, _ = packed_walls([[(x, y) for x, y in (ring[::-1] if self.mirrored else ring).tolist()]])
        body = self.body(task.body)
        trip = task.trip._replace(start=self.stand(task.trip.start), goal=self.stand(task.trip.goal))
        walls = self.walls(task.walls)
        return task._replace(
            walls=walls,
            first_walls=walls if task.first_walls is task.walls else self.walls(task.first_walls),
            body=body,
            first_body=body if task.first_body is task.body else self.body(task.first_body),
            homing=task.homing._replace(base=sides, body=self.body(task.homing.body)),
            trip=trip,
        )

    def way_back(self, way: Way) -> Way:
        """A way found in this frame as it is on the table."""
        points = tuple((float(x), float(y)) for x, y in self.points_back(np.array(way.points)))
        h, turns = way.last_heading, way.turns
        if self.mirrored:
            h, turns = math.pi / 2 - h, tuple(-turn for turn in turns)
        return replace(way, points=points, turns=turns, last_heading=h - self.quarters * math.pi / 2)


_COSINES = (1.0, 0.0, -1.0, 0.0)


def _moved(sides: np.ndarray, pieces: np.ndarray, turned, mirrored: bool) -> tuple[np.ndarray, np.ndarray]:
    """Convex pieces with their points turned; in a mirror their sides are gone round the other way."""
    if not len(pieces):
        return sides, pieces
    ends = ("b", "a") if mirrored else ("a", "b")
    order = np.arange(len(sides))
    if mirrored:
        order = np.repeat(pieces["first"] + pieces["last"] - 1, pieces["last"] - pieces["first"]) - order
    out, boxes = sides.copy(), pieces.copy()
    for name, source in zip("ab", ends, strict=True):
        xy = turned(np.stack([sides[source + "x"], sides[source + "y"]], axis=1))[order]
        out[name + "x"], out[name + "y"] = xy[:, 0], xy[:, 1]
    normals = turned(np.stack([sides["nx"], sides["ny"]], axis=1))[order]
    out["nx"], out["ny"] = normals[:, 0], normals[:, 1]
    out["support"], out["inner"] = sides["support"][order], sides["inner"][order]
    for axis in "xy":
        boxes[axis + "_lo"] = np.minimum.reduceat(out["a" + axis], pieces["first"])
        boxes[axis + "_hi"] = np.maximum.reduceat(out["a" + axis], pieces["first"])
    return out, boxes


def frames_of(task: Task) -> tuple[TableFrame, TableFrame]:
    """The two frames in which a phase is searched.

    >>> from motion.scene.example import example_scene
    >>> from motion.search.phases import Caution, Phases
    >>> scene = example_scene()
    >>> frames_of(Phases(scene).out_task(Caution(), scene.start))
    (TableFrame(quarters=0, mirrored=False), TableFrame(quarters=0, mirrored=True))
    """
    start, goal = task.trip.start, task.trip.goal
    aim = (goal.x, goal.y)
    if task.trip.into_base:
        aim = tuple(corners_of(task.homing.base).mean(axis=0))
    angle = math.atan2(aim[1] - start.y, aim[0] - start.x)
    quarters = -math.floor((angle + 1e-9) / (math.pi / 2))
    return TableFrame(quarters, mirrored=False), TableFrame(quarters, mirrored=True)
