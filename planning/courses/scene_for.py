"""What the planner sees: one tier of a mission as one robot meets it."""

from __future__ import annotations

from typing import Any

from classroom.models import Robot
from classroom.robots.numbers import RobotNumbers, numbers_for
from missions.models import TierVersion
from motion.scene import records as plain
from motion.scene.contact import nose_of, precontact_of
from planning.courses.rules.known_robot import KnownRobot


def scene_for(
    tier_version: TierVersion,
    robot: Robot,
    *,
    numbers: RobotNumbers | None = None,
    known: KnownRobot | None = None,
) -> plain.Scene:
    """The tier and the robot as plain values for ``motion``.

    The robot's steps become true steps here (typed step x scale), so that what the planner calls a whole number is one
    that the team can really set.

    Parameters
    ----------
    numbers
        The robot's numbers in force; looked up when not given.
    known
        What its runs say as well (``planning.courses.learned``), where a chance is wanted.
    """
    numbers = numbers or numbers_for(robot)
    version = tier_version.version
    return plain.Scene(
        width_mm=version.width_mm,
        depth_mm=version.depth_mm,
        base=_polygon(version.base),
        start=pose_of(version.start) if version.start else None,
        target=_target(version.target, robot),
        more_targets=tuple(_target(each, robot) for each in tier_version.more_targets),
        any_order=tier_version.any_order and bool(tier_version.more_targets),
        obstacles=tuple(_obstacle(each) for each in tier_version.obstacles),
        keep_outs=tuple(_obstacle(each) for each in tier_version.keep_outs),
        robot=_robot(robot, numbers),
        noise=numbers.noise,
        systematic=numbers.systematic,
        hypotheses=known.hypotheses if known else None,
        pace=known.pace if known else plain.Pace(),
        time_limit_s=tier_version.time_limit_s,
        margin_mm=version.margin_mm,
        missing=version.missing,
        name=f"{version.title}, {tier_version.name}",
    )


def pose_of(record: dict[str, Any]) -> plain.Pose:
    return plain.Pose(float(record["x_mm"]), float(record["y_mm"]), float(record["heading_deg"]))


def _robot(robot: Robot, numbers: RobotNumbers) -> plain.RobotSpec:
    working = robot.working_footprint
    return plain.RobotSpec(
        footprint=tuple(_polygon(part) for part in robot.travel_footprint),
        working_footprint=tuple(_polygon(part) for part in working) if working else None,
        tool_seconds=robot.tool_seconds,
        speed_mm_s=robot.speed_mm_s,
        acceleration_mm_s2=robot.acceleration_mm_s2,
        push_speed_mm_s=robot.push_speed_mm_s,
        turn_rate_deg_s=robot.turn_rate_deg_s,
        turn_acceleration_deg_s2=robot.turn_acceleration_deg_s2,
        settle_s=robot.settle_s,
        min_leg_mm=robot.min_leg_mm,
        min_back_off_mm=robot.min_back_off_mm,
        distance_step_mm=robot.distance_step_mm * numbers.distance_scale,
        turn_step_deg=robot.turn_step_deg * numbers.turn_scale,
    )


def _target(record: dict[str, Any], robot: Robot) -> plain.Target:
    gap_mm = float(record["gap_mm"])
    if contact := record.get("contact"):  # told without a robot: where this one stands depends on its nose
        precontact = precontact_of(pose_of(contact), nose_of(robot.working_footprint or robot.travel_footprint), gap_mm)
    else:
        precontact = pose_of(record["precontact"])
    return plain.Target(
        body=_polygon(record["body"]),
        precontact=precontact,
        gap_mm=gap_mm,
        push_mm=float(record["push_mm"]),
        window=plain.Window(**{key: float(value) for key, value in record["window"].items()}),
        name=record.get("name", ""),
    )


def _obstacle(record: dict[str, Any]) -> plain.Obstacle:
    return plain.Obstacle(outline=_polygon(record["outline"]), name=record.get("name", ""))


def _polygon(points: list[list[float]]) -> plain.Polygon:
    return tuple((float(x), float(y)) for x, y in points)
