"""A tier's map for the coach's pages: the table as published, without a course."""

from __future__ import annotations

import re
from typing import Any

from django.utils.safestring import SafeString, mark_safe

from missions.ladder.rules.typical_robot import pushing_body
from missions.models import TierVersion
from motion.scene.contact import Nose, nose_of, precontact_of
from motion.scene.records import Noise, Obstacle, Polygon, Pose, RobotSpec, Scene, Target, Window

Footprint = list[list[list[float]]]


def tier_chart(edition: TierVersion, body: Footprint | None, unit: str, *, again: bool = False) -> SafeString:
    """The map as SVG for a page (the site's chart.css colours it).

    ``body`` is the footprint of the robot to think of, or None for a plain one; only where it would meet the target
    hangs on it. ``again``: the page has such a map already, whose hatchings it shares (an id may be there only once).
    """
    from motion.picture.chart import course_svg  # late: it brings the kernels in, which the first page does without

    parts = tuple(_polygon(part) for part in body or pushing_body(None))
    version = edition.version
    scene = Scene(
        width_mm=version.width_mm,
        depth_mm=version.depth_mm,
        base=_polygon(version.base),
        start=_pose(version.start) if version.start else None,
        target=_target(version.target, nose_of(parts)),
        more_targets=tuple(_target(each, nose_of(parts)) for each in edition.more_targets),
        any_order=edition.any_order,
        obstacles=tuple(_obstacle(each) for each in edition.obstacles),
        keep_outs=tuple(_obstacle(each) for each in edition.keep_outs),
        robot=_standing(parts),
        noise=Noise(0, 0, 0, 0, 0, 0),
        margin_mm=version.margin_mm,
        missing=version.missing,
        name=f"{version.title}, {edition.name}",
    )
    drawn = course_svg(scene, standalone=False, unit=unit)
    return mark_safe(re.sub("<defs>.*?</defs>", "", drawn, flags=re.DOTALL) if again else drawn)


def _standing(parts: tuple[Polygon, ...]) -> RobotSpec:
    """A robot that only stands there: nothing that moves is drawn."""
    return RobotSpec(
        footprint=parts,
        speed_mm_s=1,
        acceleration_mm_s2=1,
        push_speed_mm_s=1,
        turn_rate_deg_s=1,
        turn_acceleration_deg_s2=1,
        settle_s=0,
        min_leg_mm=0,
        min_back_off_mm=0,
        distance_step_mm=1,
        turn_step_deg=1,
    )


def _target(stored: dict[str, Any], nose: Nose) -> Target:
    gap_mm = float(stored["gap_mm"])
    contact = stored.get("contact")
    precontact = precontact_of(_pose(contact), nose, gap_mm) if contact else _pose(stored["precontact"])
    window = Window(**{key: float(value) for key, value in stored["window"].items()})
    return Target(
        _polygon(stored["body"]), precontact, gap_mm, float(stored["push_mm"]), window, stored.get("name", "")
    )


def _pose(stored: dict[str, Any]) -> Pose:
    return Pose(float(stored["x_mm"]), float(stored["y_mm"]), float(stored["heading_deg"]))


def _obstacle(stored: dict[str, Any]) -> Obstacle:
    return Obstacle(_polygon(stored["outline"]), stored.get("name", ""))


def _polygon(points: list[list[float]]) -> Polygon:
    return tuple((float(x), float(y)) for x, y in points)
