"""Runs of a robot over a table, walked plainly with numpy and tested with shapely: what would really come of a course.

Shares no code with the prediction that it judges: turns and legs as a watcher would describe them, legs as true arcs,
the body placed every few centimetres and degrees, the nose measured at the end of the push.
"""

from __future__ import annotations

import dataclasses
import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import shapely

from tests.oracles.judge import missing_rings

EVERY_MM, EVERY_DEG = 20.0, 4.0


@dataclass(frozen=True)
class TrueRobot:
    """What a robot does; lengths as a share, angles in degrees, a curve in degrees a metre, to the left positive."""

    longer: float = 0.0
    ahead_x_mm: float = 0.0
    ahead_y_mm: float = 0.0
    askew_deg: float = 0.0
    wider: float = 0.0
    overshoot_deg: float = 0.0
    curve: float = 0.0
    length_share: float = 0.004
    place_mm: float = 3.0
    askew_sd_deg: float = 1.0
    turn_deg: float = 1.0
    turn_more_deg: float = 0.7
    curve_sd: float = 1.0


@dataclass(frozen=True)
class Outcome:
    """Of so many runs: whether each worked, where its nose met the target (along, left in mm, turned in degrees), and
    whether it touched something before it got there.
    """

    worked: np.ndarray
    miss: np.ndarray
    stopped: np.ndarray


def play(scene, start, told: Sequence, robot: TrueRobot, rng: np.random.Generator, runs: int) -> Outcome:
    """Drive a course many times."""
    steps, push = _walk(start, told, robot, scene.noise.yaw_reference, rng, runs)
    miss = _nose_miss(scene, steps[push + 1][-1])
    window = scene.target.window
    met = (np.abs(miss[:, 1]) <= window.lateral_mm) & (np.abs(miss[:, 2]) <= window.heading_deg)
    met &= (miss[:, 0] >= -window.short_mm) & (miss[:, 0] <= window.long_mm)
    stopped, touched = np.zeros(runs, bool), np.zeros(runs, bool)
    around = _around(scene)
    lowered = False
    for k, action in enumerate(told):
        name = getattr(action, "name", "")
        lowered = {"lower": True, "raise": False}.get(name, lowered)
        body = scene.robot.working_footprint if lowered and scene.robot.working_footprint else scene.robot.footprint
        if k == push or k == push + 1 or (k == push + 2 and told[k - 1].do == "tool"):
            walls = around["pushing"]
        else:
            walls = around["out" if k < push else "home"]
        hits = np.zeros(runs, bool)
        for poses in steps[k + 1]:
            hits |= _meets(walls, scene, body, poses)
        touched |= hits
        if k < push:
            stopped |= hits
    home = _inside(scene, body, steps[-1][-1])
    return Outcome(met & ~touched & home, miss, stopped)


def play_many(
    scene, start, told: Sequence, robot: TrueRobot, rng: np.random.Generator, runs: int, order: Sequence[int]
) -> np.ndarray:
    """Drive a course over several targets, pushed in an order: which runs worked (1 + n, runs), in all and at each.

    A run works at a target when it has touched nothing till then and its nose ends in the window.
    """
    steps, _ = _walk(start, told, robot, scene.noise.yaw_reference, rng, runs)
    targets = (scene.target, *scene.more_targets)
    fixed = [shapely.Polygon(each.outline) for each in (*scene.obstacles, *scene.keep_outs)]
    fixed += [shapely.Polygon(ring) for ring in missing_rings(scene)]
    stand = [shapely.Polygon(each.body) for each in targets]
    todo, at, leaving = list(order), None, False
    untouched, works, each = np.ones(runs, bool), np.ones(runs, bool), []
    for k, action in enumerate(told):
        if action.do == "push":
            at, leaving = todo.pop(0), False
        walls = shapely.union_all([*fixed, *(body for i, body in enumerate(stand) if i != at)])
        for poses in steps[k + 1]:
            untouched &= ~_meets(walls, scene, scene.robot.footprint, poses)
        if action.do == "push":
            target = targets[at]
            miss = _nose_miss(dataclasses.replace(scene, target=target, more_targets=()), steps[k + 1][-1])
            window = target.window
            met = (np.abs(miss[:, 1]) <= window.lateral_mm) & (np.abs(miss[:, 2]) <= window.heading_deg)
            met &= (miss[:, 0] >= -window.short_mm) & (miss[:, 0] <= window.long_mm)
            each.append(met & untouched)
            works &= met
            h = math.radians(target.precontact.heading_deg)
            stand[at] = shapely.affinity.translate(
                stand[at], target.push_mm * math.cos(h), target.push_mm * math.sin(h)
            )
            leaving = True
        elif leaving:
            at, leaving = None, False
    works &= untouched & _inside(scene, scene.robot.footprint, steps[-1][-1])
    return np.stack([works, *each])


def _walk(start, told, robot, yaw, rng, runs):
    """Poses (runs, 3) in mm and rad, several for each action; and which action is the push."""
    x = start.x_mm + robot.ahead_x_mm + robot.place_mm * rng.standard_normal(runs)
    y = start.y_mm + robot.ahead_y_mm + robot.place_mm * rng.standard_normal(runs)
    off = np.radians(robot.askew_deg + robot.askew_sd_deg * rng.standard_normal(runs))
    heading = math.radians(start.heading_deg) + off
    asked = math.radians(start.heading_deg)
    steps, push = [[np.column_stack([x, y, heading])]], -1
    for k, action in enumerate(told):
        made = []
        if action.do == "turn":
            asked += math.radians(action.by_deg)
            sd = math.sqrt(robot.turn_deg**2 + robot.turn_more_deg**2 * abs(action.by_deg) / 90)
            error = robot.wider * action.by_deg + sd * rng.standard_normal(runs)
            if action.by_deg:
                error += robot.overshoot_deg * math.copysign(1.0, action.by_deg)
            before = heading
            if yaw == "absolute":
                heading = asked + off + np.radians(error)
            else:
                heading = before + np.radians(action.by_deg + error)
            count = max(1, math.ceil(abs(action.by_deg) / EVERY_DEG))
            for i in range(1, count + 1):
                made.append(np.column_stack([x, y, before + (heading - before) * i / count]))
        elif action.do in ("drive", "push"):
            push = k if action.do == "push" else push
            d = action.distance_mm
            length = d * (1 + robot.longer) + abs(d) * robot.length_share * rng.standard_normal(runs)
            bend = np.radians(robot.curve + robot.curve_sd * rng.standard_normal(runs)) * d / 1000
            count = max(1, math.ceil(abs(d) / EVERY_MM))
            x0, y0, h0 = x, y, heading
            for i in range(1, count + 1):
                gone, turned = length * i / count, bend * i / count
                chord = gone * np.sinc(turned / 2 / math.pi)  # the chord of an arc
                x, y = x0 + chord * np.cos(h0 + turned / 2), y0 + chord * np.sin(h0 + turned / 2)
                heading = h0 + turned
                made.append(np.column_stack([x, y, heading]))
        else:
            made.append(np.column_stack([x, y, heading]))
        steps.append(made)
    return steps, push


def _corner_arrays(body, poses):
    c, s = np.cos(poses[:, 2])[:, None], np.sin(poses[:, 2])[:, None]
    for part in body:
        ring = np.array(part, dtype=float)
        placed = np.stack(
            [poses[:, :1] + ring[:, 0] * c - ring[:, 1] * s, poses[:, 1:2] + ring[:, 0] * s + ring[:, 1] * c], axis=2
        )
        yield placed


def _meets(walls, scene, body, poses):
    hits = np.zeros(len(poses), bool)
    for corners in _corner_arrays(body, poses):
        low, high = corners.min(1), corners.max(1)
        hits |= (low < 0).any(1) | (high > (scene.width_mm, scene.depth_mm)).any(1)
        near = np.flatnonzero(_in_reach(walls, low, high) & ~hits)  # what no box of a wall touches, no wall does
        hits[near] = shapely.intersects(walls, shapely.polygons(corners[near]))
    return hits


def _in_reach(walls, low, high):
    found = np.zeros(len(low), bool)
    for box in shapely.bounds(shapely.get_parts(walls)):
        found |= (low <= box[2:]).all(1) & (high >= box[:2]).all(1)
    return found


def _inside(scene, body, poses):
    base, inside = shapely.Polygon(scene.base).buffer(1e-3), np.ones(len(poses), bool)
    for corners in _corner_arrays(body, poses):
        inside &= shapely.covers(base, shapely.polygons(corners))
    return inside


def _around(scene):
    fixed = [shapely.Polygon(each.outline) for each in (*scene.obstacles, *scene.keep_outs)]
    fixed += [shapely.Polygon(ring) for ring in missing_rings(scene)]
    target = shapely.Polygon(scene.target.body)
    h, far = math.radians(scene.target.precontact.heading_deg), scene.target.push_mm
    moved = shapely.affinity.translate(target, far * math.cos(h), far * math.sin(h))
    found = {"pushing": fixed, "out": [*fixed, target], "home": [*fixed, moved]}
    unions = {}
    for name, shapes in found.items():
        unions[name] = shapely.union_all(shapes) if shapes else None
        if unions[name] is not None:
            shapely.prepare(unions[name])
    return unions


def _nose_miss(scene, poses):
    aim, body = scene.target.precontact, scene.robot.working_footprint or scene.robot.footprint
    corners = np.array([corner for part in body for corner in part], dtype=float)
    reach = corners[:, 0].max()
    face = corners[corners[:, 0] > reach - 1, 1]
    left = (face.min() + face.max()) / 2
    h = math.radians(aim.heading_deg)
    should = (
        aim.x_mm + (reach + scene.target.push_leg_mm) * math.cos(h) - left * math.sin(h),
        aim.y_mm + (reach + scene.target.push_leg_mm) * math.sin(h) + left * math.cos(h),
    )
    nose_x = poses[:, 0] + reach * np.cos(poses[:, 2]) - left * np.sin(poses[:, 2])
    nose_y = poses[:, 1] + reach * np.sin(poses[:, 2]) + left * np.cos(poses[:, 2])
    dx, dy = nose_x - should[0], nose_y - should[1]
    turned = (np.degrees(poses[:, 2]) - aim.heading_deg + 180) % 360 - 180
    return np.column_stack([dx * math.cos(h) + dy * math.sin(h), dy * math.cos(h) - dx * math.sin(h), turned])
