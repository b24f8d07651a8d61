"""Where a robot stopped, by the mark on its top, as the form of a run asks for it."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from django.utils.translation import gettext as _
from django.utils.translation import gettext_noop
from shapely.geometry import MultiPoint
from shapely.geometry import Point as Spot
from shapely.geometry import Polygon as Area

from classroom.errors import InputError
from classroom.site.figures import figure_said, in_own_digits
from motion.chance.least_squares import NINETEEN_IN_TWENTY
from motion.picture.camera.robot_pose import SeenRobot
from motion.scene.contact import nose_of
from motion.scene.records import Pose, Scene
from motion.units import format_length, in_digits, to_unit
from planning.errors import PlanningCode

#: Past these a robot is not at the target. Common practice, no source.
FARTHEST_MM, WIDEST_DEG = 400.0, 60.0
#: When the picture is taken, in words; "home" asks about the base, the others about the target.
MOMENTS = {
    "pushed": gettext_noop("At the end of its push"),
    "before": gettext_noop("In front of the target, before it pushes"),
    "home": gettext_noop("Home again"),
}


@dataclass(frozen=True)
class Stopped:
    """``fields`` fill the run's form, in the club's unit; ``words`` say the same with how sure it is."""

    fields: dict[str, str]
    words: tuple[str, ...]


def stopped_at_target(seen: SeenRobot, scene: Scene, number: int, moment: str, unit: str) -> Stopped:
    """The miss of the robot's nose, sideways and along the push, and how it is turned.

    Raises
    ------
    InputError
        ``too_far``: not at that target.
    """
    target = scene.targets[number]
    there = target.precontact
    if moment == "pushed":
        c, s = math.cos(math.radians(there.heading_deg)), math.sin(math.radians(there.heading_deg))
        there = Pose(there.x_mm + c * target.push_leg_mm, there.y_mm + s * target.push_leg_mm, there.heading_deg)
    off, covariance = seen.from_goal(there)
    along, left, turned = (float(part) for part in off)
    nose = nose_of(scene.robot.working_footprint or scene.robot.footprint)
    c, s = math.cos(math.radians(turned)), math.sin(math.radians(turned))
    along += nose.reach_mm * (c - 1.0) - nose.left_mm * s
    left += nose.reach_mm * s + nose.left_mm * (c - 1.0)
    if math.hypot(along, left) > FARTHEST_MM or abs(turned) > WIDEST_DEG:
        raise InputError(
            PlanningCode.TOO_FAR,
            _("The robot does not stand at the target in this picture. Say where it stands, or take another picture."),
        )
    per_degree = math.pi / 180.0
    lever = np.array(
        [
            [1.0, 0.0, (-nose.reach_mm * s - nose.left_mm * c) * per_degree],
            [0.0, 1.0, (nose.reach_mm * c - nose.left_mm * s) * per_degree],
            [0.0, 0.0, 1.0],
        ]
    )
    half = NINETEEN_IN_TWENTY * np.sqrt(np.diag(lever @ covariance @ lever.T))
    sideways = (_("{size} to the left") if left >= 0 else _("{size} to the right")).format(
        size=_length(left, float(half[1]), unit)
    )
    reached = (_("{size} too far") if along >= 0 else _("{size} too short")).format(
        size=_length(along, float(half[0]), unit)
    )
    angle = f"{figure_said(abs(turned), 1)} ± {figure_said(float(half[2]), 1)}°"
    heading = (_("turned %(angle)s to the left") if turned >= 0 else _("turned %(angle)s to the right")) % {
        "angle": angle
    }
    fields = {
        "sideways": in_digits(to_unit(abs(left), unit), 3),
        "side": "left" if left >= 0 else "right",
        "along": in_digits(to_unit(abs(along), unit), 3),
        "way": "far" if along >= 0 else "short",
        "angle": in_digits(abs(turned), 3),
        "angle_side": "left" if turned >= 0 else "right",
    }
    return Stopped(fields, (sideways, reached, heading))


def stopped_at_home(seen: SeenRobot, scene: Scene, unit: str) -> Stopped:
    """Whether all of the robot is inside the base, where the picture tells."""
    base = Area(scene.base)
    pose = seen.pose
    c, s = math.cos(math.radians(pose.heading_deg)), math.sin(math.radians(pose.heading_deg))
    corners = [
        (pose.x_mm + c * x - s * y, pose.y_mm + s * x + c * y) for part in scene.robot.footprint for x, y in part
    ]
    margins = [base.exterior.distance(Spot(p)) * (1.0 if base.covers(Spot(p)) else -1.0) for p in corners]
    inner = min(margins)
    if inner >= 0.0 and not base.covers(MultiPoint(corners).convex_hull):
        inner = 0.0  # a base with a notch: no corner is outside, and something may be
    x_half, y_half, heading_half = seen.half_ranges()
    reach = max(math.hypot(x, y) for part in scene.robot.footprint for x, y in part)
    half = math.hypot(max(x_half, y_half), reach * math.radians(heading_half))
    sizes = {
        "room": in_own_digits(format_length(abs(inner), unit, decimals=1)),
        "sure": in_own_digits(format_length(half, unit, decimals=1)),
    }
    if inner > half:
        words = _("All of it is inside the base, with %(room)s to spare (sure to %(sure)s)") % sizes
        return Stopped({"home": "yes"}, (words,))
    if inner < -half:
        return Stopped({"home": "no"}, (_("It reaches %(room)s out of the base (sure to %(sure)s)") % sizes,))
    words = _("Too near the edge of the base to tell: %(room)s, sure to %(sure)s. Look yourself") % sizes
    return Stopped({}, (words,))


def _length(value: float, half: float, unit: str) -> str:
    decimals = 0 if unit == "mm" else 1
    return f"{figure_said(to_unit(abs(value), unit), decimals)} ± {figure_said(to_unit(half, unit), decimals)} {unit}"
