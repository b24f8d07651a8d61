"""Courses through given points, for measurements that need a course but no planner."""

from __future__ import annotations

import math
from collections.abc import Sequence

from motion.course.actions import Action, Drive, Push, Turn
from motion.scene.records import Point, Pose, Scene
from motion.units import wrap_deg


def through(start: Pose, points: Sequence[Point], end_heading_deg: float | None = None) -> list[Action]:
    """Turn and drive to each point in turn; at last turn to ``end_heading_deg`` if given."""
    actions: list[Action] = []
    x, y, heading = start.x_mm, start.y_mm, start.heading_deg
    for px, py in points:
        to = math.degrees(math.atan2(py - y, px - x))
        actions += [*_turn(heading, to), Drive(math.hypot(px - x, py - y))]
        x, y, heading = px, py, to
    if end_heading_deg is not None:
        actions += _turn(heading, end_heading_deg)
    return actions


def _turn(heading: float, to: float) -> list[Action]:
    by = wrap_deg(to - heading)
    return [Turn(by, to)] if abs(by) > 1e-9 else []


def out_and_home(scene: Scene, start: Pose, via: Sequence[Point] = (), home_via: Sequence[Point] = ()) -> list[Action]:
    """Through ``via`` to the pre-contact pose, push, back off, through ``home_via`` to the start's place."""
    aim = scene.target.precontact
    out = through(start, [*via, (aim.x_mm, aim.y_mm)], aim.heading_deg)
    h = math.radians(aim.heading_deg)
    back = scene.robot.min_back_off_mm + 40.0
    ahead = scene.target.push_leg_mm - back
    stand = Pose(aim.x_mm + ahead * math.cos(h), aim.y_mm + ahead * math.sin(h), aim.heading_deg)
    home = through(stand, [*home_via, (start.x_mm, start.y_mm)])
    return [*out, Push(scene.target.push_leg_mm), Drive(-back), *home]
