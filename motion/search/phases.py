"""From a scene to the phases that the compiled search solves: walls, bodies and prices for going out and coming home."""

from __future__ import annotations

import math
from dataclasses import dataclass
from functools import lru_cache

import numpy as np
import shapely
from shapely import affinity
from shapely.geometry import Polygon as ShapelyPolygon

from motion.ground.clearance import Ground, ground_of, pushed_body, wall_outlines
from motion.ground.geometry import Body, Walls, body_of, counter_clockwise, grown, packed_walls, walls_of
from motion.scene.records import Polygon, Pose, Scene
from motion.search.kernels.task import Handling, Scatter, Stand, Task, Trip

#: How much thinner than itself a body is while the coarse graph is searched, mm.
SLIM_MM = 6.0
#: Among outlines with more corners than this in all a try takes ten times as long.
MANY_CORNERS = 1_000
#: The turn whose spread stands for all while ways are searched for; what is compared later takes each as it is.
USUAL_TURN_DEG = 60.0


@dataclass(frozen=True)
class Caution:
    """What a search pays for beyond time.

    ``extra_mm`` more room than the margin wherever the fixed poses leave it; ``base_extra_mm`` deeper into the base;
    ``spread_s_per_mm`` seconds for a millimetre of spread to the side at the target; ``move_price_s`` seconds for
    every turn and leg on top of what it takes.
    """

    extra_mm: float = 0.0
    base_extra_mm: float = 0.0
    spread_s_per_mm: float = 0.0
    move_price_s: float = 0.0


def has_many_corners(scene: Scene) -> bool:
    """Whether the outlines have so many corners that fewer tries must do.

    >>> from motion.scene.example import example_scene
    >>> has_many_corners(example_scene())
    False
    """
    return sum(len(each.outline) for each in (*scene.obstacles, *scene.keep_outs)) > MANY_CORNERS


def push_end(scene: Scene, start: Pose | None = None, distance_mm: float | None = None) -> Pose:
    """Pose at the end of the push, from the pre-contact pose unless another is given.

    Examples
    --------
    >>> from motion.scene.example import example_scene
    >>> push_end(example_scene())
    Pose(x_mm=1150.0, y_mm=250.0, heading_deg=0)
    """
    pose = start or scene.target.precontact
    far = scene.target.push_leg_mm if distance_mm is None else distance_mm
    h = math.radians(pose.heading_deg)
    return Pose(pose.x_mm + far * math.cos(h), pose.y_mm + far * math.sin(h), pose.heading_deg)


def unit(pose: Pose) -> tuple[float, float, float, float]:
    """Where a pose is (mm) and the unit vector along its heading, as kernels take them.

    >>> unit(Pose(150, 250, 0))
    (150.0, 250.0, 1.0, 0.0)
    """
    h = math.radians(pose.heading_deg)
    return float(pose.x_mm), float(pose.y_mm), math.cos(h), math.sin(h)


class Phases:
    """Builds tasks for a scene. ``stop`` is the flag at which their kernels give up."""

    def __init__(self, scene: Scene, stop: np.ndarray | None = None) -> None:
        self.scene = scene
        self.stop = np.zeros(1, np.int64) if stop is None else stop
        self.ground: Ground = ground_of(scene)
        #: Walls with more room around them that were asked for before: by the stage and the room around each outline.
        self._wide: dict[tuple[str, tuple[float, ...], float], Walls] = {}

    def slim(self) -> tuple[Body, ...]:
        """The thinner travel body for the coarse graph."""
        return (body_of(self.scene.robot.footprint, self.scene.margin_mm - SLIM_MM),)

    def out_task(self, caution: Caution, start: Pose, goal: Pose | None = None) -> Task:
        """From the start to the pre-contact pose (or another goal)."""
        goal = goal or self.scene.target.precontact
        walls = self._wide_walls("out", caution.extra_mm, (start, goal))
        return self._task(walls, None, start, goal, caution)

    def open_start_task(self, caution: Caution, goal: Pose) -> Task:
        """From the goal back into the base: its mirror in time is a course from a start of the planner's choice."""
        walls = self._wide_walls("out", caution.extra_mm, (goal,))
        return self._task(walls, None, goal, None, caution)

    def home_task(self, caution: Caution, end_of_push: Pose) -> Task:
        """From the end of the push, backing off first, into the base."""
        far = self.scene.robot.min_back_off_mm
        h = math.radians(end_of_push.heading_deg)
        off = Pose(end_of_push.x_mm - far * math.cos(h), end_of_push.y_mm - far * math.sin(h), end_of_push.heading_deg)
        walls = self._wide_walls("home", caution.extra_mm, (off,))
        return self._task(walls, self.ground.push, end_of_push, None, caution)

    def _task(self, walls: Walls, first_walls: Walls | None, start: Pose, goal: Pose | None, caution: Caution) -> Task:
        robot, noise, ground = self.scene.robot, self.scene.noise, self.ground
        end = goal or start
        trip = Trip(
            start=Stand(float(start.x_mm), float(start.y_mm), math.radians(start.heading_deg)),
            goal=Stand(float(end.x_mm), float(end.y_mm), math.radians(end.heading_deg)),
            into_base=goal is None,
            backing=first_walls is not None,
            handling=Handling(
                speed=float(robot.speed_mm_s),
                acceleration=float(robot.acceleration_mm_s2),
                turn_rate=math.radians(robot.turn_rate_deg_s),
                turn_acceleration=math.radians(robot.turn_acceleration_deg_s2),
                settle=float(robot.settle_s) + caution.move_price_s,
                least_leg=max(float(robot.min_leg_mm), 1e-3),
                least_back=max(float(robot.min_back_off_mm), 1e-3),
            ),
            scatter=Scatter(
                price=float(caution.spread_s_per_mm),
                turn_sd=math.radians(noise.turn_sd(USUAL_TURN_DEG)),
                drift_sd=math.radians(noise.drift_sd_deg_per_m) / 1000,
                length_sd=float(noise.distance_sd_fraction),
                absolute_yaw=noise.yaw_reference == "absolute",
            ),
        )
        return Task(
            walls=walls,
            first_walls=walls if first_walls is None else first_walls,
            body=ground.travel_wide,
            first_body=ground.travel_wide if first_walls is None else ground.working_wide,
            homing=ground.homing()._replace(base=self._base(caution.base_extra_mm)),
            trip=trip,
            stop=self.stop,
        )

    def _base(self, extra_mm: float) -> np.ndarray:
        """The sides of the base's ring, smaller all round by so much, or by as much as lets the body in."""
        if extra_mm <= 0 or not self.ground.base_convex:
            return self.ground.base
        ring = counter_clockwise(self.scene.base)
        inner = ShapelyPolygon(ring).buffer(-extra_mm, join_style="mitre")
        while (inner.is_empty or not _fits(self.ground.travel, inner)) and extra_mm > 1:
            extra_mm /= 2
            inner = ShapelyPolygon(ring).buffer(-extra_mm, join_style="mitre")
        if extra_mm <= 1 or len(inner.exterior.coords) != len(ring) + 1:
            return self.ground.base
        sides, _ = packed_walls([grown(ring, -extra_mm)])
        return sides

    def _wide_walls(self, stage: str, extra_mm: float, poses: tuple[Pose, ...]) -> Walls:
        if extra_mm <= 0:
            return self.ground.walls(stage)
        scene = self.scene
        outlines, _, _ = wall_outlines(scene)
        outlines = [*outlines, scene.target.body if stage == "out" else pushed_body(scene)]
        rooms, edge_room = _rooms_at(scene, outlines, poses)
        spare = tuple(np.clip(rooms - scene.margin_mm - 0.5, 0, extra_mm).tolist())
        edge = float(np.clip(edge_room - scene.margin_mm - 0.5, 0, extra_mm))
        known = (stage, spare, edge)
        if known not in self._wide:
            self._wide[known], _ = walls_of(
                outlines, scene.width_mm, scene.depth_mm, extra_mm=spare, edge_extra_mm=edge
            )
        return self._wide[known]


def _fits(body: Body, inner: ShapelyPolygon) -> bool:
    """Whether a box around the body, at some right angle, fits into the bounds of an area; a rough first look."""
    x0, y0, x1, y1 = inner.bounds
    width = float(body.parts["x_hi"].max() - body.parts["x_lo"].min())
    depth = float(body.parts["y_hi"].max() - body.parts["y_lo"].min())
    return (width < x1 - x0 and depth < y1 - y0) or (depth < x1 - x0 and width < y1 - y0)


def placed(footprint: tuple[Polygon, ...], pose: Pose) -> shapely.Geometry:
    """A footprint at a pose, as one shapely geometry.

    Examples
    --------
    >>> from motion.scene.example import example_scene
    >>> placed(example_scene().robot.footprint, Pose(150, 250, 0)).bounds
    (100.0, 200.0, 300.0, 300.0)
    """
    shape = shapely.union_all([ShapelyPolygon(p) for p in footprint])
    return affinity.translate(affinity.rotate(shape, pose.heading_deg, origin=(0, 0)), pose.x_mm, pose.y_mm)


@lru_cache(maxsize=512)
def _shape(outline: Polygon) -> ShapelyPolygon:
    """An outline as a shapely polygon (the last ones are remembered)."""
    return ShapelyPolygon(outline)


def _rooms_at(scene: Scene, outlines: list[Polygon], poses: tuple[Pose, ...]) -> tuple[np.ndarray, float]:
    """Least distance of the travelling body, standing at fixed poses, to each outline and to the table's edges."""
    shapes = np.array([_shape(o) for o in outlines])
    rooms = np.full(len(outlines), np.inf)
    edge = math.inf
    for pose in poses:
        body = placed(scene.robot.footprint, pose)
        rooms = np.minimum(rooms, shapely.distance(shapes, body))
        x0, y0, x1, y1 = body.bounds
        edge = min(edge, x0, y0, scene.width_mm - x1, scene.depth_mm - y1)
    return rooms, edge
