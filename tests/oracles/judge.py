"""The second, independent judge of a course: shapely (GEOS) only, on the raw polygons of the scene.

Shares no code with the kernels, the packing or the search. A leg's sweep is the footprint at both ends and a strip for
every side of its outline; a turn is looked at every 0.1 degree. Both at the body's true size: what it asks is that the
distance to everything is at least the margin.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import shapely
from shapely.geometry import MultiPoint
from shapely.geometry import Polygon as ShapelyPolygon

from motion.course.actions import Action, Drive, Push, Tool, Turn
from motion.scene.records import Polygon, Pose, Scene, Target

TURN_SAMPLE_DEG = 0.1
TOLERANCE_MM = 1e-4


@dataclass(frozen=True)
class Fault:
    """One thing that is wrong with a course."""

    action: int
    what: str  # "obstacle", "edge", "keep-out", "target", "base", "window", "back-off", "push"
    message: str


@dataclass(frozen=True)
class Verdict:
    """What the judge says: clear or not, the least room per action (mm), and every fault."""

    clear: bool
    faults: tuple[Fault, ...]
    room_mm: tuple[float, ...]


def judge_course(scene: Scene, start: Pose, actions: Sequence[Action]) -> Verdict:
    """Judge a whole course: clear sweeps, start and end in the base, the window at the target, the back-off.

    Parameters
    ----------
    scene
        The scene; its margin is what every distance is held against.
    start
        Pose at which the course begins.
    actions
        Turns, drives, tool actions and exactly one push of each target.

    Returns
    -------
    Verdict
        Room is the least distance to anything fixed; negative when the body enters something or leaves the table.
    """
    faults: list[Fault] = []
    rooms: list[float] = []
    walls = [("obstacle", o.outline) for o in scene.obstacles] + [("keep-out", k.outline) for k in scene.keep_outs]
    walls += [("missing corner", ring) for ring in missing_rings(scene)]
    base = ShapelyPolygon(scene.base).buffer(1e-3)
    if not base.covers(_union(_standing(scene.robot.footprint, start))):
        faults.append(Fault(0, "base", "does not start wholly inside the base"))
    pushes = [i for i, a in enumerate(actions) if isinstance(a, Push)]
    targets = [scene.target, *scene.more_targets]
    if len(pushes) != len(targets):
        faults.append(Fault(0, "push", f"has {len(pushes)} pushes; exactly {len(targets)} are needed"))
    pose, lowered, left_base = start, False, False
    stand = {i: target.body for i, target in enumerate(targets)}  # where each body is now
    waiting, at = list(stand), -1  # those not pushed yet, and the one that is pushed or still to be backed off from
    stage = "clear"  # or "off": pushed, not yet moved
    for i, action in enumerate(actions):
        pushing = isinstance(action, Push)
        backing = stage == "off" and not isinstance(action, Tool)
        footprints = _footprints(scene, action, lowered)
        left_base = left_base or not base.covers(_union(_standing(footprints[0], pose)))
        if isinstance(action, Push):
            at = _meant(targets, waiting, pose, action, scene.any_order)
            waiting = [k for k in waiting if k != at]
            faults += _window_faults(targets[at], pose, action, i)
            if not left_base:
                faults.append(Fault(i, "base", "touches the target before it has left the base"))
        if backing and not (isinstance(action, Drive) and action.distance_mm <= -scene.robot.min_back_off_mm + 1e-6):
            faults.append(Fault(i, "back-off", "does not first back off the target far enough"))
        in_touch = at if pushing or stage == "off" else -1
        things = [*walls, *(("target", body) for k, body in stand.items() if k != in_touch)]
        room = math.inf
        for footprint in footprints:
            for what, gap in _gaps(scene, _passed_over(footprint, pose, action), things):
                room = min(room, gap)
                if gap < scene.margin_mm - TOLERANCE_MM:
                    faults.append(Fault(i, what, f"comes within {gap:.2f} mm of the {what}"))
        rooms.append(room)
        if isinstance(action, Tool):
            lowered = {"lower": True, "raise": False}.get(action.name, lowered)
        pose = _after(pose, action)
        if pushing:
            stage = "off"
            faults += _pushed_into(targets, stand, at, i)
            stand[at] = _moved_body(targets[at])
        elif backing:  # its end must be clear of the target again
            stage = "clear"
            for what, gap in _gaps(scene, _standing(footprints[-1], pose), [("target", stand[at])]):
                if what == "target" and gap < scene.margin_mm - TOLERANCE_MM:
                    faults.append(Fault(i, "target", "has not come clear of the target when it stops backing off"))
    end = scene.robot.working_footprint if lowered and scene.robot.working_footprint else scene.robot.footprint
    if not base.covers(_union(_standing(end, pose))):
        faults.append(Fault(max(len(actions) - 1, 0), "base", "does not end wholly inside the base"))
    return Verdict(not faults, tuple(faults), tuple(rooms))


def missing_rings(scene: Scene) -> list[Polygon]:
    """Where an L-shaped table is none."""
    if scene.missing is None:
        return []
    deep, side = scene.missing.corner.split()
    x = (scene.width_mm - scene.missing.width_mm, scene.width_mm) if side == "right" else (0.0, scene.missing.width_mm)
    y = (scene.depth_mm - scene.missing.depth_mm, scene.depth_mm) if deep == "far" else (0.0, scene.missing.depth_mm)
    return [((x[0], y[0]), (x[1], y[0]), (x[1], y[1]), (x[0], y[1]))]


def _footprints(scene: Scene, action: Action, lowered: bool) -> list[tuple[Polygon, ...]]:
    travel, working = scene.robot.footprint, scene.robot.working_footprint or scene.robot.footprint
    if isinstance(action, Tool) and action.name != "wait":
        return [travel, working]
    return [working if lowered else travel]


def _moved_body(target: Target) -> Polygon:
    h = math.radians(target.precontact.heading_deg)
    return tuple((x + target.push_mm * math.cos(h), y + target.push_mm * math.sin(h)) for x, y in target.body)


def _meant(targets: Sequence[Target], waiting: Sequence[int], pose: Pose, action: Push, any_order: bool) -> int:
    """Which target a push is for: the next one, or in any order that for which least is wrong with it."""
    if not waiting:
        return len(targets) - 1
    if not any_order:
        return waiting[0]
    return min(waiting, key=lambda k: len(_window_faults(targets[k], pose, action, 0)))


def _pushed_into(targets: Sequence[Target], stand: dict[int, Polygon], at: int, index: int) -> list[Fault]:
    """A target that is pushed over another one's body."""
    moving = MultiPoint([*targets[at].body, *_moved_body(targets[at])]).convex_hull
    others = [ShapelyPolygon(body) for k, body in stand.items() if k != at]
    hit = any(moving.intersection(other).area > 1.0 for other in others)
    return [Fault(index, "target", "is pushed into another target")] if hit else []


def _window_faults(target: Target, pose: Pose, action: Push, index: int) -> list[Fault]:
    h = math.radians(target.precontact.heading_deg)
    heading = math.radians(pose.heading_deg)
    end_x = pose.x_mm + action.distance_mm * math.cos(heading)
    end_y = pose.y_mm + action.distance_mm * math.sin(heading)
    dx, dy = end_x - target.precontact.x_mm, end_y - target.precontact.y_mm
    along, left = dx * math.cos(h) + dy * math.sin(h), dy * math.cos(h) - dx * math.sin(h)
    over = along - target.gap_mm - target.push_mm
    faults = []
    if abs(math.remainder(pose.heading_deg - target.precontact.heading_deg, 360)) > target.window.heading_deg + 1e-6:
        faults.append(Fault(index, "window", "pushes at a heading outside the window"))
    meet_x = pose.x_mm + target.gap_mm * math.cos(heading) - target.precontact.x_mm
    meet_y = pose.y_mm + target.gap_mm * math.sin(heading) - target.precontact.y_mm
    meets = meet_y * math.cos(h) - meet_x * math.sin(h)
    if max(abs(left), abs(meets)) > target.window.lateral_mm + 1e-6:
        faults.append(Fault(index, "window", "meets the target outside the window to the side"))
    if over < -target.window.short_mm - 1e-6:
        faults.append(Fault(index, "window", "does not push far enough"))
    if over > target.window.long_mm + 1e-6:
        faults.append(Fault(index, "window", "pushes too far"))
    return faults


def _standing(footprint: Sequence[Polygon], pose: Pose) -> np.ndarray:
    return _at(footprint, pose.x_mm, pose.y_mm, np.array([math.radians(pose.heading_deg)]))


def _at(footprint: Sequence[Polygon], x: float, y: float, headings: np.ndarray) -> np.ndarray:
    """Every part of the footprint at every heading, as an array of shapely polygons."""
    shapes = []
    for ring in footprint:
        corners = np.array(ring, dtype=float)
        c, s = np.cos(headings)[:, None], np.sin(headings)[:, None]
        px = x + corners[:, 0] * c - corners[:, 1] * s
        py = y + corners[:, 0] * s + corners[:, 1] * c
        shapes.append(shapely.polygons(np.stack([px, py], axis=-1)))
    return np.concatenate(shapes)


def _passed_over(footprint: Sequence[Polygon], pose: Pose, action: Action) -> np.ndarray:
    """Shapes that together are the area an action passes over."""
    heading = math.radians(pose.heading_deg)
    if isinstance(action, Tool):
        return _standing(footprint, pose)
    if isinstance(action, Turn):
        by = math.radians(action.by_deg)
        count = max(2, math.ceil(abs(action.by_deg) / TURN_SAMPLE_DEG) + 1)
        return _at(footprint, pose.x_mm, pose.y_mm, heading + np.linspace(0, by, count))
    end = _after(pose, action)
    shapes = [*_standing(footprint, pose), *_standing(footprint, end)]
    shift = np.array([end.x_mm - pose.x_mm, end.y_mm - pose.y_mm])
    for part in _standing(footprint, pose):
        corners = shapely.get_coordinates(part)
        shapes += [
            MultiPoint([*corners[i : i + 2], *(corners[i : i + 2] + shift)]).convex_hull
            for i in range(len(corners) - 1)
        ]
    return np.array(shapes)


def _gaps(scene: Scene, shapes: np.ndarray, things: Sequence[tuple[str, Polygon]]) -> list[tuple[str, float]]:
    bounds = shapely.total_bounds(shapes)
    gaps = [("edge", float(min(bounds[0], bounds[1], scene.width_mm - bounds[2], scene.depth_mm - bounds[3])))]
    for what, outline in things:
        other = ShapelyPolygon(outline)
        gap = float(shapely.distance(shapes, other).min())
        if gap == 0.0:
            gap = -math.sqrt(float(shapely.area(shapely.intersection(shapes, other)).max()))
        gaps.append((what, gap))
    return gaps


def _union(shapes: np.ndarray) -> shapely.Geometry:
    return shapely.union_all(shapes)


def _after(pose: Pose, action: Action) -> Pose:
    if isinstance(action, Turn):
        return Pose(pose.x_mm, pose.y_mm, pose.heading_deg + action.by_deg)
    if isinstance(action, Drive | Push):
        h = math.radians(pose.heading_deg)
        return Pose(
            pose.x_mm + action.distance_mm * math.cos(h), pose.y_mm + action.distance_mm * math.sin(h), pose.heading_deg
        )
    return pose
