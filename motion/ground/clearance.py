"""What a robot must keep clear of at each stage of a course, and how much room an action leaves.

A course has four stages. Going out and coming home, the target's body is a wall (at home-time at its pushed place);
on the push leg and on the first leg back off the target it is not. From compiled code use the kernels directly on the
packed arrays of :class:`Ground`; from Python use :func:`action_room`.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from functools import lru_cache
from typing import Literal

import numpy as np

from motion.course.actions import Action, Drive, Push, Tool, Turn
from motion.course.sentences import _
from motion.ground.geometry import Body, Walls, body_of, counter_clockwise, is_convex, packed_walls, walls_of
from motion.ground.kernels import leg_free
from motion.ground.kernels_base import Homing, inside_base
from motion.ground.kernels_room import leg_room, turn_room
from motion.ground.named import EDGE_NAMES
from motion.scene.records import Polygon, Pose, Scene

__all__ = [
    "Ground",
    "Stage",
    "action_room",
    "ground_of",
    "inside_base",
    "leg_free",
    "leg_room",
    "pose_after",
    "poses_of",
    "stages_of",
    "turn_room",
]


@dataclass(frozen=True, eq=False)
class Ground:
    """A scene packed for the kernels.

    ``out``, ``push`` and ``home`` are the walls while going out, while pushing and backing off the target, and while
    coming home. ``travel`` and ``working`` are the footprints at true size (the same object when the robot has no
    working footprint); ``travel_wide`` and ``working_wide`` are grown by the scene's margin. ``base`` is the base's
    ring as sides (:data:`motion.ground.geometry.SIDE`). ``names`` names each piece of each of the three walls, then the four edges; ``kinds``
    says "obstacle", "keep-out", "target" or "edge" in the same order.
    """

    out: Walls
    push: Walls
    home: Walls
    travel: Body
    working: Body
    travel_wide: Body
    working_wide: Body
    base: np.ndarray
    base_convex: bool
    names: dict[str, tuple[str, ...]]
    kinds: dict[str, tuple[str, ...]]

    def walls(self, stage: str) -> Walls:
        """The walls of a stage: ``"out"``, ``"push"``, ``"back"`` (same as push) or ``"home"``."""
        return {"out": self.out, "push": self.push, "back": self.push, "home": self.home}[stage]

    def homing(self, lowered: bool = False) -> Homing:
        """What coming home asks of the footprint that holds."""
        return Homing(self.base, self.base_convex, self.body(lowered))

    def body(self, working: bool, wide: bool = False) -> Body:
        """The footprint that holds, at true size or grown by the margin."""
        if wide:
            return self.working_wide if working else self.travel_wide
        return self.working if working else self.travel


@dataclass(frozen=True)
class Stage:
    """Which walls and which footprint hold during an action; ``lowered`` is True when the tool is down in it.

    A tool action that lowers or raises holds both footprints; its stage names the working one.
    """

    name: Literal["out", "push", "back", "home"]
    lowered: bool


def pushed_body(scene: Scene) -> Polygon:
    """The target's body after the push.

    Examples
    --------
    >>> from motion.scene.example import example_scene
    >>> example_scene().target.body[0], pushed_body(example_scene())[0]
    ((1250, 200), (1300.0, 200.0))
    """
    return scene.target.pushed_body


def wall_outlines(scene: Scene) -> tuple[list[Polygon], list[str], list[str]]:
    """Outlines, names and kinds of everything fixed: obstacles, then keep-outs, then where the table lacks a corner.

    Examples
    --------
    >>> from motion.scene.example import example_scene
    >>> wall_outlines(example_scene())
    ([((600, 600), (800, 600), (800, 800), (600, 800))], ['gravel bank'], ['obstacle'])
    """
    outlines = [o.outline for o in scene.obstacles] + [k.outline for k in (*scene.keep_outs, *scene.no_table)]
    names = [o.name or _("obstacle {number}", number=i + 1) for i, o in enumerate(scene.obstacles)]
    names += [k.name or _("keep-out {number}", number=i + 1) for i, k in enumerate((*scene.keep_outs, *scene.no_table))]
    kinds = ["obstacle"] * len(scene.obstacles) + ["keep-out"] * (len(scene.keep_outs) + len(scene.no_table))
    return outlines, names, kinds


def target_name(scene: Scene) -> str:
    """The target in words.

    Examples
    --------
    >>> from motion.scene.example import example_scene
    >>> target_name(example_scene())
    'tide gate'
    """
    return scene.target.name or _("the target")


@lru_cache(maxsize=64)
def ground_of(scene: Scene) -> Ground:
    """Pack a scene for the kernels (remembered for the last scenes asked).

    Examples
    --------
    >>> from motion.scene.example import example_scene
    >>> ground = ground_of(example_scene())
    >>> ground.names["out"][:3], ground.names["push"][:2]
    (('gravel bank', 'tide gate', 'the left edge'), ('gravel bank', 'the left edge'))
    """
    outlines, names, kinds = wall_outlines(scene)
    walls: dict[str, Walls] = {}
    all_names: dict[str, tuple[str, ...]] = {}
    all_kinds: dict[str, tuple[str, ...]] = {}
    for stage, extra in (("out", [scene.target.body]), ("push", []), ("home", [pushed_body(scene)])):
        pieces, owner = walls_of(outlines + extra, scene.width_mm, scene.depth_mm)
        stage_names = [*names, target_name(scene)]
        stage_kinds = [*kinds, "target"]
        walls[stage] = pieces
        all_names[stage] = (*(stage_names[o] for o in owner), *EDGE_NAMES)
        all_kinds[stage] = (*(stage_kinds[o] for o in owner), "edge", "edge", "edge", "edge")
    all_names["back"], all_kinds["back"] = all_names["push"], all_kinds["push"]
    travel = body_of(scene.robot.footprint)
    travel_wide = body_of(scene.robot.footprint, scene.margin_mm)
    working, working_wide = travel, travel_wide
    if scene.robot.working_footprint is not None:
        working = body_of(scene.robot.working_footprint)
        working_wide = body_of(scene.robot.working_footprint, scene.margin_mm)
    ring = counter_clockwise(scene.base)
    base, _ = packed_walls([ring])
    return Ground(
        walls["out"], walls["push"], walls["home"], travel, working, travel_wide, working_wide,
        base, is_convex(ring), all_names, all_kinds,
    )  # fmt: skip


def stages_of(actions: Sequence[Action]) -> tuple[Stage, ...]:
    """The stage of every action: out until the push, push, then back for the first drive if it backs up, then home.

    Examples
    --------
    >>> [stage.name for stage in stages_of([Drive(900), Push(100), Drive(-200), Turn(90, 90)])]
    ['out', 'push', 'back', 'home']
    """
    stages: list[Stage] = []
    name: Literal["out", "push", "back", "home"] = "out"
    lowered = False
    for action in actions:
        if isinstance(action, Push):
            name = "push"
        elif name == "push":
            name = "back" if isinstance(action, Drive) and action.distance_mm < 0 else "home"
            if isinstance(action, Tool):  # a tool action before the robot has moved changes nothing about the walls
                stages.append(Stage("back", True))
                lowered = _after_tool(action, lowered)
                name = "push"
                continue
        elif name == "back":
            name = "home"
        if isinstance(action, Tool):
            stages.append(Stage(name, lowered or action.name == "lower"))
            lowered = _after_tool(action, lowered)
        else:
            stages.append(Stage(name, lowered))
    return tuple(stages)


def _after_tool(action: Tool, lowered: bool) -> bool:
    return {"lower": True, "raise": False}.get(action.name, lowered)


def pose_after(pose: Pose, action: Action) -> Pose:
    """Where a pose goes under one exact action.

    Examples
    --------
    >>> pose_after(Pose(100, 250, 0), Drive(-50)), pose_after(Pose(100, 250, 0), Turn(90, 90))
    (Pose(x_mm=50.0, y_mm=250.0, heading_deg=0), Pose(x_mm=100, y_mm=250, heading_deg=90))
    """
    if isinstance(action, Turn):
        return Pose(pose.x_mm, pose.y_mm, pose.heading_deg + action.by_deg)
    if isinstance(action, Tool):
        return pose
    h = math.radians(pose.heading_deg)
    return Pose(
        pose.x_mm + action.distance_mm * math.cos(h), pose.y_mm + action.distance_mm * math.sin(h), pose.heading_deg
    )


def poses_of(start: Pose, actions: Sequence[Action]) -> tuple[Pose, ...]:
    """The start and the pose after each action, every turn and leg exact.

    Examples
    --------
    >>> [round(pose.y_mm, 6) for pose in poses_of(Pose(100, 250, 0), [Turn(90, 90), Drive(400), Drive(-100)])]
    [250, 250, 650.0, 550.0]
    """
    poses = [start]
    for action in actions:
        poses.append(pose_after(poses[-1], action))
    return tuple(poses)


@lru_cache(maxsize=8192)
def action_room(ground: Ground, stage: Stage, pose: Pose, action: Action) -> tuple[float, int]:
    """Least room (mm, beyond the true body) during one action from a pose, and the index of what is nearest.

    What was asked last is remembered: many courses begin or end alike. The index goes into ``ground.names[stage.name]``. Negative room is an overlap. A wait has infinite room.

    Examples
    --------
    Before the push the nose stands 50 mm short of the target.

    >>> from motion.scene.example import example_scene
    >>> scene = example_scene()
    >>> ground, stage, drive = ground_of(scene), Stage("out", lowered=False), Drive(900)
    >>> room, index = action_room(ground, stage, scene.start, drive)
    >>> round(room, 3), ground.names["out"][index]
    (50.0, 'tide gate')
    """
    walls = ground.walls(stage.name)
    x, y, h = float(pose.x_mm), float(pose.y_mm), math.radians(pose.heading_deg)  # one type, one compiled kernel
    c, s = math.cos(h), math.sin(h)
    if isinstance(action, Turn):
        return turn_room(walls, ground.body(stage.lowered), x, y, h, math.radians(action.by_deg))
    if isinstance(action, Tool):
        if action.name == "wait":
            return math.inf, -1
        return min(leg_room(walls, ground.body(low), x, y, c, s, 0.0) for low in (False, True))
    return leg_room(walls, ground.body(stage.lowered), x, y, c, s, float(action.distance_mm))
