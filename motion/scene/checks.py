"""Whether a scene makes sense: simple polygons, things where they must be. For files and for scenes built from rows."""

from __future__ import annotations

import itertools
import math
import re
from collections.abc import Iterator, Sequence

import shapely
from shapely import affinity
from shapely.geometry import Point as ShapelyPoint
from shapely.geometry import Polygon as ShapelyPolygon

from motion.course.sentences import Sentence, _, numeral
from motion.errors import MotionCode, SceneError
from motion.scene.records import Polygon, Pose, Scene, Target
from motion.units import figure

MAX_OBSTACLES = 64
MAX_TARGETS = 3
LEAST_AREA_MM2 = 1.0
LEAST_PUSH_MM = 1.0
SLACK_MM = 0.01  # rounding in a file is not worth refusing a scene for


_WHAT = {
    "base": _("base"),
    "footprint": _("footprint"),
    "keep-out": _("keep-out"),
    "obstacle": _("obstacle"),
    "outline": _("outline"),
    "target": _("target"),
}


def polygon_problem(ring: Polygon, place: str, what: str) -> SceneError | None:
    """Why a ring is no simple polygon, or None.

    >>> polygon_problem(((0, 0), (10, 10), (10, 0), (0, 10)), "base", "base").code.value
    'base_crosses_itself'
    """
    code = what.replace(" ", "_").replace("-", "_")
    if any(not (math.isfinite(x) and math.isfinite(y)) for x, y in ring):
        return SceneError(MotionCode.NOT_FINITE, _("A corner is not a finite number; measure it again."), place)
    if len(set(ring)) < 3:
        return SceneError(
            MotionCode(f"{code}_degenerate"),
            _("The {what} needs at least three different corners.", what=_WHAT[what]),
            place,
        )
    if len(ring) > 64:
        return SceneError(MotionCode.TOO_MANY, _("{count} corners; at most 64 are allowed.", count=len(ring)), place)
    shape = ShapelyPolygon(ring)
    if shape.convex_hull.area < LEAST_AREA_MM2:
        return SceneError(
            MotionCode(f"{code}_degenerate"), _("The {what} has no area; check its corners.", what=_WHAT[what]), place
        )
    if not shape.is_valid:
        where = re.search(r"\[([-+.\deE]+) ([-+.\deE]+)", shapely.is_valid_reason(shape))
        message = (
            _(
                "The outline of the {what} crosses itself near ({x}, {y}); list its corners in order round the outside.",
                what=_WHAT[what],
                x=numeral(figure(float(where[1]))),
                y=numeral(figure(float(where[2]))),
            )
            if where
            else _(
                "The outline of the {what} crosses itself; list its corners in order round the outside.",
                what=_WHAT[what],
            )
        )
        return SceneError(MotionCode(f"{code}_crosses_itself"), message, place)
    if shape.area < LEAST_AREA_MM2:
        return SceneError(
            MotionCode(f"{code}_degenerate"), _("The {what} has no area; check its corners.", what=_WHAT[what]), place
        )
    return None


def _placed(footprint: Sequence[Polygon], pose: Pose) -> shapely.Geometry:
    shape = shapely.union_all([ShapelyPolygon(p) for p in footprint])
    turned = affinity.rotate(shape, pose.heading_deg, origin=(0, 0))
    return affinity.translate(turned, pose.x_mm, pose.y_mm)


def scene_problems(scene: Scene) -> list[SceneError]:
    """Everything wrong with a scene, worst first; empty when it can be planned on.

    Each is a :class:`SceneError` with a code, a sentence with the remedy and the place (``"obstacles[2]"``).

    Examples
    --------
    >>> from dataclasses import replace
    >>> from motion.scene.example import example_scene
    >>> scene_problems(example_scene())
    []
    >>> problem = scene_problems(replace(example_scene(), start=Pose(400, 250, 0)))[0]
    >>> problem.place, problem.message
    ('start', 'The robot does not stand wholly inside the base at its start; move the start or turn it.')
    """
    shapes = list(_shape_problems(scene))
    return shapes or list(_place_problems(scene))


def off_table(name: str = "") -> Sentence:
    """Of an obstacle that stands beside the table, by its name where it has one.

    >>> off_table("sea wall")
    'The sea wall is nowhere on the table; move it onto it or delete it.'
    """
    if name:
        return _("The {name} is nowhere on the table; move it onto it or delete it.", name=name)
    return _("The obstacle is nowhere on the table; move it onto it or delete it.")


def push_problems(push_mm: float, short_mm: float, place: str = "target") -> Iterator[SceneError]:
    """What is wrong with a push and its window: a target that nothing has touched must not count as done.

    >>> [problem.place for problem in push_problems(60, 60)], [problem.place for problem in push_problems(0, 0)]
    (['target.window.short_mm'], ['target.push_mm'])
    """
    if push_mm < LEAST_PUSH_MM:
        yield SceneError(
            MotionCode.NO_PUSH, _("The push is nothing; say how far the target is to move."), f"{place}.push_mm"
        )
    elif short_mm >= push_mm:
        message = _(
            "The window reaches so far short that a target nobody has touched would count; make it less than the push."
        )
        yield SceneError(MotionCode.UNTOUCHED_COUNTS, message, f"{place}.window.short_mm")


def _shape_problems(scene: Scene) -> Iterator[SceneError]:
    if not (100 <= scene.width_mm <= 20_000 and 100 <= scene.depth_mm <= 20_000):
        message = _(
            "A table of {width} by {depth} mm is not between 10 cm and 20 m. Lengths are in millimetres.",
            width=numeral(f"{scene.width_mm:g}"),
            depth=numeral(f"{scene.depth_mm:g}"),
        )
        yield SceneError(MotionCode.TABLE_SIZE, message, "table")
    lacks = scene.missing
    if lacks is not None and (lacks.width_mm >= scene.width_mm or lacks.depth_mm >= scene.depth_mm):
        message = _("The missing corner is as long or as deep as the whole table; make it smaller.")
        yield SceneError(MotionCode.TABLE_SIZE, message, "table.missing")
    named: list[tuple[Polygon, str, str]] = [(scene.base, "base", "base")]
    named += [(target.body, f"{place}.body", "target") for place, target in _target_places(scene)]
    named += [(o.outline, f"obstacles[{i}]", "obstacle") for i, o in enumerate(scene.obstacles)]
    named += [(k.outline, f"keep_outs[{i}]", "keep-out") for i, k in enumerate(scene.keep_outs)]
    named += [(p, f"robot.footprint[{i}]", "footprint") for i, p in enumerate(scene.robot.footprint)]
    for i, part in enumerate(scene.robot.working_footprint or ()):
        named.append((part, f"robot.working_footprint[{i}]", "footprint"))
    for ring, place, what in named:
        problem = polygon_problem(ring, place, what)
        if problem is not None:
            yield problem
    if len(scene.obstacles) > MAX_OBSTACLES:
        message = _(
            "{count} obstacles; at most {most} are allowed.",
            count=len(scene.obstacles),
            most=MAX_OBSTACLES,
        )
        yield SceneError(MotionCode.TOO_MANY, message, "obstacles")
    if len(scene.keep_outs) > MAX_OBSTACLES:
        message = _(
            "{count} keep-outs; at most {most} are allowed.",
            count=len(scene.keep_outs),
            most=MAX_OBSTACLES,
        )
        yield SceneError(MotionCode.TOO_MANY, message, "keep_outs")
    for place, target in _target_places(scene):
        yield from push_problems(target.push_mm, target.window.short_mm, place)
    for key, footprint in (("footprint", scene.robot.footprint), ("working_footprint", scene.robot.working_footprint)):
        if footprint is not None and not footprint:
            yield SceneError(
                MotionCode.FOOTPRINT_DEGENERATE, _("The robot has no body; draw its outline."), f"robot.{key}"
            )


def _place_problems(scene: Scene) -> Iterator[SceneError]:
    table = shapely.box(-SLACK_MM, -SLACK_MM, scene.width_mm + SLACK_MM, scene.depth_mm + SLACK_MM)
    for corner in scene.no_table:  # up to a line within it, so that what ends at its edge is on the table
        table = table.difference(ShapelyPolygon(corner.outline).buffer(-SLACK_MM, join_style="mitre"))
    base = ShapelyPolygon(scene.base).buffer(SLACK_MM)
    robot = scene.robot
    for key, footprint in (("footprint", robot.footprint), ("working_footprint", robot.working_footprint)):
        if footprint is None:
            continue
        body = shapely.union_all([ShapelyPolygon(p) for p in footprint])
        if not body.buffer(SLACK_MM).covers(ShapelyPoint(0, 0)):
            message = _("The middle of the axle, (0, 0), is outside the body; draw the body around the axle.")
            yield SceneError(MotionCode.FOOTPRINT_WITHOUT_AXLE, message, f"robot.{key}")
        if (
            max(map(abs, body.bounds)) > 2000
            or min(body.bounds[2] - body.bounds[0], body.bounds[3] - body.bounds[1]) < 5
        ):
            message = _("The body is larger than 2 m or thinner than 5 mm. Lengths are in millimetres.")
            yield SceneError(MotionCode.FOOTPRINT_SIZE, message, f"robot.{key}")
    if not table.covers(ShapelyPolygon(scene.base)):
        yield SceneError(
            MotionCode.BASE_OFF_TABLE, _("The base reaches beyond the table; move its corners onto it."), "base"
        )
    for place, each in _target_places(scene):
        if not table.covers(ShapelyPolygon(each.body)):
            message = _("The target is not on the table; move it onto it.")
            yield SceneError(MotionCode.TARGET_OFF_TABLE, message, f"{place}.body")
    for i, obstacle in enumerate(scene.obstacles):
        if not table.intersects(ShapelyPolygon(obstacle.outline)):
            yield SceneError(MotionCode.OBSTACLE_OFF_TABLE, off_table(), f"obstacles[{i}]")
    if scene.start is not None:
        start = _placed(robot.footprint, scene.start)
        if not base.covers(start):
            message = _("The robot does not stand wholly inside the base at its start; move the start or turn it.")
            yield SceneError(MotionCode.START_OUTSIDE_BASE, message, "start")
        yield from _standing_problems(scene, start, "start", "on_start")
        for place, each in _target_places(scene):
            if start.intersection(ShapelyPolygon(each.body)).area > LEAST_AREA_MM2:
                message = _("The robot stands in the target at its start; move one of them.")
                yield SceneError(MotionCode.TARGET_ON_START, message, f"{place}.body")
    for place, each in _target_places(scene):
        yield from _front_problems(scene, place, each, table)
    yield from _together_problems(scene)


def _target_places(scene: Scene) -> list[tuple[str, Target]]:
    """Every target with its place in a file."""
    if not scene.more_targets:
        return [("target", scene.target)]
    return [(f"targets[{i}]", target) for i, target in enumerate(scene.targets)]


def _front_problems(scene: Scene, place: str, target: Target, table: shapely.Geometry) -> Iterator[SceneError]:
    """What is wrong with where the robot stands before it pushes a target."""
    front = _placed(scene.robot.working_footprint or scene.robot.footprint, target.precontact)
    place = f"{place}.precontact"
    if not table.covers(front):
        message = _("In front of the target the robot would hang over the edge; turn or move the target.")
        yield SceneError(MotionCode.PRECONTACT_OFF_TABLE, message, place)
    if front.intersection(ShapelyPolygon(target.body)).area > LEAST_AREA_MM2:
        message = _("The robot stands in the target before it pushes; move the pre-contact pose back.")
        yield SceneError(MotionCode.PRECONTACT_IN_TARGET, message, place)
    yield from _standing_problems(scene, front, place, "on_precontact")


def _together_problems(scene: Scene) -> Iterator[SceneError]:
    """Two targets in one place: as they stand, or once both are pushed."""
    if len(scene.targets) > MAX_TARGETS:
        message = _("{count} targets; at most {most} are allowed.", count=len(scene.targets), most=MAX_TARGETS)
        yield SceneError(MotionCode.TOO_MANY, message, "targets")
    before = [ShapelyPolygon(target.body) for target in scene.targets]
    after = [ShapelyPolygon(target.pushed_body) for target in scene.targets]
    for i, k in itertools.combinations(range(len(before)), 2):
        for bodies, message in (
            (before, _("Two targets stand in one another; move one of them.")),
            (after, _("Two targets stand in one another once both are pushed; move one of them.")),
        ):
            if bodies[i].intersection(bodies[k]).area > LEAST_AREA_MM2:
                yield SceneError(MotionCode.TARGETS_IN_ONE_PLACE, message, f"targets[{k}].body")


def _standing_problems(scene: Scene, body: shapely.Geometry, place: str, code: str) -> Iterator[SceneError]:
    for key, things, what in (("obstacles", scene.obstacles, "obstacle"), ("keep_outs", scene.keep_outs, "keep-out")):
        for i, thing in enumerate(things):
            if body.intersection(ShapelyPolygon(thing.outline)).area > LEAST_AREA_MM2:
                message = _STANDS_ON[what, code]
                if thing.name:
                    message = _NAMED_STANDS_ON[code].with_values(name=thing.name)
                yield SceneError(MotionCode(f"{what.replace('-', '_')}_{code}"), message, f"{key}[{i}]")


_NAMED_STANDS_ON = {
    "on_start": _("The {name} is where the robot stands at its start; move it or the start."),
    "on_precontact": _("The {name} is where the robot stands in front of the target; move it or the target."),
}
_STANDS_ON = {
    ("obstacle", "on_start"): _("This obstacle is where the robot stands at its start; move it or the start."),
    ("keep-out", "on_start"): _("This keep-out is where the robot stands at its start; move it or the start."),
    ("obstacle", "on_precontact"): _(
        "This obstacle is where the robot stands in front of the target; move it or the target."
    ),
    ("keep-out", "on_precontact"): _(
        "This keep-out is where the robot stands in front of the target; move it or the target."
    ),
}
