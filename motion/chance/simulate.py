"""One run of one robot, step by step: what really happens when a course is driven by a robot with its own ways.

Slow and plain on purpose: it serves the demonstration club, teaching and tests, and shares no code with the Monte Carlo
kernels that it is compared with.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass

import numpy as np
import shapely
from shapely import Polygon as Shape

from motion.course.actions import Action, Drive, Push, Tool, Turn
from motion.course.sentences import _
from motion.scene.records import Noise, Polygon, Pose, Scene, Target, Window

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
    """What a watcher would write down. Misses are in the target's frame: along the push, and to its left.

    Of several targets they are at the first that was missed, else at the last; all of them must be done. ``met``: it came to the end of its push, so that the misses are where its nose was then. ``touched`` is what the body
    touched first, "" for nothing: the target counts but while it is pushed and backed off from, and so does the edge.
    """

    poses: tuple[Pose, ...]
    along_mm: float
    lateral_mm: float
    heading_error_deg: float
    done: bool
    home: bool
    left_base: bool
    met: bool
    touched: str

    @property
    def clean(self) -> bool:
        return self.done and self.home and not self.touched


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
        After touching something that stands fast the robot stops there; then it is neither done (unless it was before)
        nor home. A target that it knocks on its way is not done either, but the robot goes on.

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
    body = scene.robot.footprint
    actions = tuple(actions)
    things = _Things(scene, _order(scene, start, actions))
    scale = manner.distance_scale + rng.normal(0, noise.distance_scale_sd)
    x = start.x_mm + rng.normal(0, noise.start_position_sd_mm)
    y = start.y_mm + rng.normal(0, noise.start_position_sd_mm)
    offset = rng.normal(0, noise.start_heading_sd_deg)
    heading = start.heading_deg + offset
    told = start.heading_deg
    poses = [Pose(x, y, heading)]
    touched, left_base = "", False
    meetings: list[
        tuple[Target, Pose, bool]
    ] = []  # each target that was pushed, where, and whether all was well till then
    base = Shape(scene.base)
    for action in actions:
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
        before, after = poses[-1], Pose(x, y, heading)
        poses.append(after)
        things.at_action(action)
        hit = things.touched_by(body, _between(before, after))
        touched = touched or hit
        if isinstance(action, Push) and hit in ("", *things.names):
            meetings.append((things.pushing, after, touched == ""))
        left_base = left_base or not any(part.intersects(base) for part in _placed(body, _row(after)).flat)
        if hit not in ("", *things.names):
            break
    met = len(meetings) == len(scene.targets)
    seen = [(_miss(scene, target, pose), target.window, well) for target, pose, well in meetings]
    missed = [miss for miss, window, well in seen if not (well and _inside(window, *miss))]
    along, lateral, turned = (missed or [miss for miss, _, _ in seen[-1:]] or [_miss(scene, scene.target, poses[-1])])[
        0
    ]
    done = met and not missed
    home = not touched and all(base.buffer(0.5).covers(part) for part in _placed(body, _row(poses[-1])).flat)
    return SimulatedRun(tuple(poses), along, lateral, turned, done, home, left_base, met, touched)


def _order(scene: Scene, start: Pose, actions: Sequence[Action]) -> list[int]:
    """Which target each push is meant for."""
    if not scene.more_targets:
        return [0]
    from motion.ground.errands import errands_of  # late: it brings the kernels in, and the demonstration does without

    return [errand.target for errand in errands_of(scene, start, actions) if errand.push is not None]


def _inside(window: Window, along: float, lateral: float, turned: float) -> bool:
    straight = abs(lateral) <= window.lateral_mm and abs(turned) <= window.heading_deg
    return straight and -window.short_mm <= along <= window.long_mm


class _Things:
    """What the body must not touch, as the run goes on; ``order`` in which its pushes are meant for the targets."""

    def __init__(self, scene: Scene, order: Sequence[int]) -> None:
        self.table = Shape([(0, 0), (scene.width_mm, 0), (scene.width_mm, scene.depth_mm), (0, scene.depth_mm)])
        self.fixed = [(Shape(o.outline), o.name or _("an obstacle")) for o in (*scene.obstacles, *scene.keep_outs)]
        self.fixed += [(Shape(o.outline), _("the edge of the table")) for o in scene.no_table]
        self.targets = scene.targets
        self.names = [target.name or _("the target") for target in scene.targets]
        self.stand = [Shape(target.body) for target in scene.targets]
        self.waiting, self.at = list(order), -1  # -1: no target is pushed or backed off from
        self.backing = False

    @property
    def pushing(self) -> Target:
        """The target that is pushed or was last."""
        return self.targets[self.at]

    def at_action(self, action: Action) -> None:
        """A target is none of them while it is pushed and backed off from; then it stands where it was pushed to."""
        if isinstance(action, Push):
            self.at = self.waiting.pop(0) if self.waiting else self.at
            self.backing = False
        elif self.backing:
            self.stand[self.at] = Shape(self.targets[self.at].pushed_body)
            self.at, self.backing = -1, False
        elif self.at >= 0 and not isinstance(action, Tool):
            self.backing = True

    def touched_by(self, body: tuple[Polygon, ...], poses: np.ndarray) -> str:
        """The name of one that the body touches at one of the poses, "" for none."""
        parts = _placed(body, poses)
        others = [
            (shape, name) for i, (shape, name) in enumerate(zip(self.stand, self.names, strict=True)) if i != self.at
        ]
        for shape, name in [*self.fixed, *others]:
            if shapely.intersects(shape, parts).any():
                return name
        return "" if shapely.covers(self.table, parts).all() else _("the edge of the table")


def _placed(body: tuple[Polygon, ...], poses: np.ndarray) -> np.ndarray:
    """Shapes of each part of the body at each pose, (parts, poses)."""
    x, y, heading = poses.T[:, :, None]
    placed = []
    for part in body:
        px, py = np.array(part, dtype=float).T
        corner_x = x + px * np.cos(heading) - py * np.sin(heading)
        corner_y = y + px * np.sin(heading) + py * np.cos(heading)
        placed.append(shapely.polygons(np.stack([corner_x, corner_y], axis=2)))
    return np.array(placed)


def _row(pose: Pose) -> np.ndarray:
    return np.array([[pose.x_mm, pose.y_mm, math.radians(pose.heading_deg)]])


def _between(a: Pose, b: Pose) -> np.ndarray:
    """Poses (n, 3) in mm and rad on the arc, or the turn in place, from one to the other, the second with them."""
    first, last = _row(a)[0], _row(b)[0]
    turned = last[2] - first[2]
    distance = math.hypot(*(last - first)[:2])
    steps = max(1, math.ceil(distance / STEP_MM), math.ceil(math.degrees(abs(turned)) / STEP_DEG))
    t = np.arange(1, steps + 1) / steps
    on_arc = np.sin(t * turned / 2) / math.sin(turned / 2) if distance and turned else t  # chords of parts of the arc
    bent = (t - 1) * turned / 2  # how far right of the whole chord they point
    dx, dy = on_arc * (last[0] - first[0]), on_arc * (last[1] - first[1])
    x, y = dx * np.cos(bent) - dy * np.sin(bent), dx * np.sin(bent) + dy * np.cos(bent)
    return np.column_stack([first[0] + x, first[1] + y, first[2] + t * turned])


def _miss(scene: Scene, target: Target, pose: Pose) -> tuple[float, float, float]:
    """Where the robot's nose was at the end of its push against where it should have been: along, to the left, heading."""
    aim = target.precontact
    corners = [corner for part in scene.robot.working_footprint or scene.robot.footprint for corner in part]
    reach = max(x for x, _ in corners)
    face = [y for x, y in corners if x > reach - 1]
    nose = np.array([reach, (min(face) + max(face)) / 2])
    stands, should = (_matrix(p.heading_deg) @ nose + (p.x_mm, p.y_mm) for p in (pose, aim))
    along, lateral = _matrix(-aim.heading_deg) @ (stands - should)
    turned = (pose.heading_deg - aim.heading_deg + 180) % 360 - 180
    return float(along) - target.push_leg_mm, float(lateral), turned


def _matrix(heading_deg: float) -> np.ndarray:
    c, s = math.cos(math.radians(heading_deg)), math.sin(math.radians(heading_deg))
    return np.array([[c, -s], [s, c]])
