"""Reading and writing of scene files: helmroom.scene/1 with one target, helmroom.scene/2 with a list of them.

Both are read; what has one target is written as /1, so that files and hashes of such scenes stay as they were.

The schemas are shipped beside this file in ``schema/``; the reader says more than they can (places, remedies, geometry).
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import asdict
from typing import Any

from motion.course.sentences import _
from motion.errors import MotionCode
from motion.scene.checks import MAX_TARGETS, scene_problems
from motion.scene.file_fields import a_list, a_number, a_polygon, a_text, an_object, fail, parse_json
from motion.scene.records import (
    MISSING_CORNERS,
    MissingCorner,
    Noise,
    Obstacle,
    Pose,
    RobotSpec,
    Scene,
    Systematic,
    Target,
    Window,
)

SCENE_FORMAT, TARGETS_FORMAT = "helmroom.scene/1", "helmroom.scene/2"
#: In which order the targets of a list are pushed.
ORDERS = ("given", "any")


def read_scene(data: bytes | str) -> Scene:
    """Read a scene file.

    Parameters
    ----------
    data
        The file's content, at most 1 MB of UTF-8 JSON.

    Raises
    ------
    SceneError
        With a code, one sentence that says what to do, and the place in the file.

    Examples
    --------
    >>> import json
    >>> from motion.scene.example import example_scene
    >>> read_scene(json.dumps(scene_to_dict(example_scene()))) == example_scene()
    True
    >>> read_scene("{}")
    Traceback (most recent call last):
    motion.errors.SceneError: "format" is missing.
    """
    scene = scene_from_dict(parse_json(data))
    problems = scene_problems(scene)
    if problems:
        raise problems[0]
    return scene


def scene_from_dict(value: Any) -> Scene:
    """Build a scene from parsed JSON, types and ranges checked, geometry not yet.

    Examples
    --------
    >>> from motion.scene.example import example_scene
    >>> written = scene_to_dict(example_scene())
    >>> scene_from_dict(written) == example_scene()
    True
    >>> scene_from_dict(written | {"margin_mm": -1})
    Traceback (most recent call last):
    motion.errors.SceneError: margin_mm: -1 mm is outside 0 to 500 mm. Lengths are in millimetres.
    """
    many = isinstance(value, dict) and value.get("format") == TARGETS_FORMAT
    top = an_object(
        value,
        "",
        ("format", "table", "base", "targets" if many else "target", "obstacles", "robot", "noise", "margin_mm"),
        ("start", "name", "keep_outs", "best_known", "systematic", *(("order",) if many else ())),
    )
    if top["format"] not in (SCENE_FORMAT, TARGETS_FORMAT):
        message = _(
            'This is not a scene file: "format" must be "{first}" or "{second}".',
            first=SCENE_FORMAT,
            second=TARGETS_FORMAT,
        )
        fail(MotionCode.WRONG_FORMAT, message, "format")
    targets = _targets(top["targets"]) if many else (_target(top["target"], "target"),)
    if top.get("order", ORDERS[0]) not in ORDERS:
        fail(MotionCode.WRONG_VALUE, _('Must be "given" or "any".'), "order")
    table = an_object(top["table"], "table", ("width_mm", "depth_mm"), ("missing",))
    start = top.get("start")
    return Scene(
        width_mm=a_number(table["width_mm"], "table.width_mm", 100, 20_000, "mm"),
        depth_mm=a_number(table["depth_mm"], "table.depth_mm", 100, 20_000, "mm"),
        base=a_polygon(top["base"], "base"),
        start=None if start is None else read_pose(start, "start"),
        target=targets[0],
        more_targets=targets[1:],
        any_order=len(targets) > 1 and top.get("order") == "any",
        obstacles=_things(top["obstacles"], "obstacles"),
        robot=_robot(top["robot"]),
        noise=_noise(top["noise"]),
        margin_mm=a_number(top["margin_mm"], "margin_mm", 0, 500, "mm"),
        keep_outs=_things(top.get("keep_outs", []), "keep_outs"),
        name=a_text(top.get("name", ""), "name"),
        best_known=_best_known(top.get("best_known")),
        systematic=_systematic(top.get("systematic", {})),
        missing=None if table.get("missing") is None else read_missing(table["missing"], "table.missing"),
    )


def read_missing(value: Any, place: str) -> MissingCorner:
    """The corner that a table lacks, of parsed JSON; whether it is smaller than its table is judged with the scene.

    Examples
    --------
    >>> read_missing({"corner": "far right", "width_mm": 800, "depth_mm": 400}, "table.missing")
    MissingCorner(corner='far right', width_mm=800.0, depth_mm=400.0)
    """
    missing = an_object(value, place, ("corner", "width_mm", "depth_mm"))
    if missing["corner"] not in MISSING_CORNERS:
        fail(
            MotionCode.WRONG_VALUE, _("Must be one of {values}.", values=", ".join(MISSING_CORNERS)), f"{place}.corner"
        )
    width, depth = (a_number(missing[key], f"{place}.{key}", 1, 20_000, "mm") for key in ("width_mm", "depth_mm"))
    return MissingCorner(missing["corner"], width, depth)


def read_pose(value: Any, place: str) -> Pose:
    """A pose of parsed JSON; ``place`` says where it stands in the file.

    Examples
    --------
    >>> read_pose({"x_mm": 120, "y_mm": 250, "heading_deg": 90}, "start")
    Pose(x_mm=120.0, y_mm=250.0, heading_deg=90.0)
    """
    pose = an_object(value, place, ("x_mm", "y_mm", "heading_deg"))
    return Pose(
        a_number(pose["x_mm"], f"{place}.x_mm", -100_000, 100_000, "mm"),
        a_number(pose["y_mm"], f"{place}.y_mm", -100_000, 100_000, "mm"),
        a_number(pose["heading_deg"], f"{place}.heading_deg", -3600, 3600, "degrees"),
    )


def _things(value: Any, place: str) -> tuple[Obstacle, ...]:
    things = []
    for i, item in enumerate(a_list(value, place, 64, _("obstacles") if place == "obstacles" else _("keep-outs"))):
        at = f"{place}[{i}]"
        if isinstance(item, dict):
            thing = an_object(item, at, ("outline",), ("name",))
            things.append(Obstacle(a_polygon(thing["outline"], at), a_text(thing.get("name", ""), f"{at}.name", 80)))
        else:
            things.append(Obstacle(a_polygon(item, at)))
    return tuple(things)


def _targets(value: Any) -> tuple[Target, ...]:
    items = a_list(value, "targets", MAX_TARGETS, _("targets"))
    if not items:
        fail(MotionCode.EMPTY, _("A scene needs at least one target."), "targets")
    return tuple(_target(item, f"targets[{i}]") for i, item in enumerate(items))


def _target(value: Any, place: str) -> Target:
    target = an_object(value, place, ("body", "precontact", "gap_mm", "push_mm", "window"), ("name",))
    window = an_object(target["window"], f"{place}.window", ("lateral_mm", "heading_deg", "short_mm", "long_mm"))
    push = a_number(target["push_mm"], f"{place}.push_mm", 0, 2000, "mm")
    return Target(
        body=a_polygon(target["body"], f"{place}.body"),
        precontact=read_pose(target["precontact"], f"{place}.precontact"),
        gap_mm=a_number(target["gap_mm"], f"{place}.gap_mm", 0, 1000, "mm"),
        push_mm=push,
        window=Window(
            lateral_mm=a_number(window["lateral_mm"], f"{place}.window.lateral_mm", 0.1, 1000, "mm"),
            heading_deg=a_number(window["heading_deg"], f"{place}.window.heading_deg", 0.01, 180, "degrees"),
            short_mm=a_number(window["short_mm"], f"{place}.window.short_mm", 0, 2000, "mm"),
            long_mm=a_number(window["long_mm"], f"{place}.window.long_mm", 0, 2000, "mm"),
        ),
        name=a_text(target.get("name", ""), f"{place}.name", 80),
    )


_ROBOT_NUMBERS: dict[str, tuple[float, float, str]] = {
    "speed_mm_s": (1, 10_000, "mm/s"),
    "acceleration_mm_s2": (1, 100_000, "mm/s2"),
    "push_speed_mm_s": (1, 10_000, "mm/s"),
    "turn_rate_deg_s": (1, 3600, "degrees/s"),
    "turn_acceleration_deg_s2": (1, 100_000, "degrees/s2"),
    "settle_s": (0, 60, "s"),
    "min_leg_mm": (0, 1000, "mm"),
    "min_back_off_mm": (0, 1000, "mm"),
    "distance_step_mm": (0.01, 500, "mm"),
    "turn_step_deg": (0.01, 180, "degrees"),
}


def _footprint(value: Any, place: str) -> tuple[tuple[tuple[float, float], ...], ...]:
    parts = a_list(value, place, 16, _("parts"))
    return tuple(a_polygon(part, f"{place}[{i}]", 5000) for i, part in enumerate(parts))


def _robot(value: Any) -> RobotSpec:
    robot = an_object(value, "robot", ("footprint", *_ROBOT_NUMBERS), ("working_footprint", "tool_seconds"))
    working = robot.get("working_footprint")
    numbers = {key: a_number(robot[key], f"robot.{key}", *limits) for key, limits in _ROBOT_NUMBERS.items()}
    return RobotSpec(
        footprint=_footprint(robot["footprint"], "robot.footprint"),
        working_footprint=None if working is None else _footprint(working, "robot.working_footprint"),
        tool_seconds=a_number(robot.get("tool_seconds", 0), "robot.tool_seconds", 0, 60, "s"),
        **numbers,
    )


_NOISE_NUMBERS: dict[str, tuple[float, float, str]] = {
    "distance_scale_sd": (0, 1, ""),
    "start_position_sd_mm": (0, 500, "mm"),
    "start_heading_sd_deg": (0, 90, "degrees"),
    "turn_sd_deg": (0, 90, "degrees"),
    "drift_sd_deg_per_m": (0, 90, "degrees/m"),
    "distance_sd_fraction": (0, 1, ""),
}


_GROWTH_KEY, _GROWTH_LIMITS = "turn_growth_sd_deg", (0.0, 90.0, "degrees")


def _noise(value: Any) -> Noise:
    noise = an_object(value, "noise", (*_NOISE_NUMBERS, "yaw_reference"), ("runs", _GROWTH_KEY))
    if noise["yaw_reference"] not in ("absolute", "relative"):
        fail(MotionCode.WRONG_VALUE, _('Must be "absolute" or "relative".'), "noise.yaw_reference")
    runs = noise.get("runs")
    numbers = {key: a_number(noise[key], f"noise.{key}", *limits) for key, limits in _NOISE_NUMBERS.items()}
    return Noise(
        yaw_reference=noise["yaw_reference"],
        runs=None if runs is None else int(a_number(runs, "noise.runs", 0, 1_000_000)),
        turn_growth_sd_deg=a_number(noise.get(_GROWTH_KEY, 0), f"noise.{_GROWTH_KEY}", *_GROWTH_LIMITS),
        **numbers,
    )


#: A robot that departs further than this from what it was told is not calibrated but broken or mistyped.
_SYSTEMATIC_NUMBERS: dict[str, tuple[float, float, str]] = {
    "distance_scale": (-0.9, 9, ""),
    "start_x_mm": (-500, 500, "mm"),
    "start_y_mm": (-500, 500, "mm"),
    "start_heading_deg": (-90, 90, "degrees"),
    "turn_scale": (-0.9, 9, ""),
    "turn_bias_deg": (-90, 90, "degrees"),
    "drift_deg_per_m": (-90, 90, "degrees/m"),
}


def _systematic(value: Any) -> Systematic:
    given = an_object(value, "systematic", (), tuple(_SYSTEMATIC_NUMBERS))
    return Systematic(**{key: a_number(given[key], f"systematic.{key}", *_SYSTEMATIC_NUMBERS[key]) for key in given})


def _best_known(value: Any) -> dict[str, Any] | None:
    if value is None:
        return None
    return dict(an_object(value, "best_known", ("outbound_s", "return_s"), ("margin_mm", "rounded", "note")))


def scene_to_dict(scene: Scene) -> dict[str, Any]:
    """A scene as it is written to a file; reading it back gives the same scene, save its hypotheses.

    Growth of a turn's spread and systematic numbers are written when they are not zero.

    Examples
    --------
    >>> from motion.scene.example import example_scene
    >>> written = scene_to_dict(example_scene())
    >>> written["table"], written["margin_mm"]
    ({'width_mm': 2000, 'depth_mm': 1000}, 10)
    """

    def ring(points: Sequence[tuple[float, float]]) -> list[list[float]]:
        return [[x, y] for x, y in points]

    def thing(item: Obstacle) -> Any:
        return {"name": item.name, "outline": ring(item.outline)} if item.name else ring(item.outline)

    def pushed(target: Target) -> dict[str, Any]:
        return {
            "name": target.name,
            "body": ring(target.body),
            "precontact": pose_to_dict(target.precontact),
            "gap_mm": target.gap_mm,
            "push_mm": target.push_mm,
            "window": {
                key: getattr(target.window, key) for key in ("lateral_mm", "heading_deg", "short_mm", "long_mm")
            },
        }

    robot, noise, many = scene.robot, scene.noise, bool(scene.more_targets)
    result: dict[str, Any] = {"format": TARGETS_FORMAT if many else SCENE_FORMAT, "name": scene.name}
    result["table"] = {"width_mm": scene.width_mm, "depth_mm": scene.depth_mm}
    if scene.missing is not None:
        result["table"]["missing"] = asdict(scene.missing)
    result["base"] = ring(scene.base)
    result["start"] = None if scene.start is None else pose_to_dict(scene.start)
    if many:
        result["targets"] = [pushed(target) for target in scene.targets]
        result["order"] = "any" if scene.any_order else "given"
    else:
        result["target"] = pushed(scene.target)
    result["obstacles"] = [thing(o) for o in scene.obstacles]
    result["keep_outs"] = [thing(k) for k in scene.keep_outs]
    result["robot"] = {"footprint": [ring(p) for p in robot.footprint]}
    if robot.working_footprint is not None:
        result["robot"]["working_footprint"] = [ring(p) for p in robot.working_footprint]
    result["robot"] |= {key: getattr(robot, key) for key in _ROBOT_NUMBERS} | {"tool_seconds": robot.tool_seconds}
    result["noise"] = {key: getattr(noise, key) for key in _NOISE_NUMBERS}
    result["noise"] |= {"yaw_reference": noise.yaw_reference, "runs": noise.runs}
    if noise.turn_growth_sd_deg:
        result["noise"][_GROWTH_KEY] = noise.turn_growth_sd_deg
    systematic = {key: size for key, size in asdict(scene.systematic).items() if size}
    if systematic:
        result["systematic"] = systematic
    result["margin_mm"] = scene.margin_mm
    if scene.best_known is not None:
        result["best_known"] = scene.best_known
    return result


def pose_to_dict(pose: Pose) -> dict[str, float]:
    """A pose as written to files.

    Examples
    --------
    >>> pose_to_dict(Pose(120, 250, 90))
    {'x_mm': 120, 'y_mm': 250, 'heading_deg': 90}
    """
    return {"x_mm": pose.x_mm, "y_mm": pose.y_mm, "heading_deg": pose.heading_deg}
