"""What is wrong with a mission's layout, tier by tier, before any planner is asked.

``motion.scene.checks`` judges each tier with a robot in it; this adds what concerns the mission alone (contact and
target, things on top of each other). A problem either stops publishing or is only worth a look.
"""

from __future__ import annotations

import math
import re
from collections.abc import Iterator
from dataclasses import dataclass, replace
from typing import Any

import shapely
from django.utils.translation import gettext as _
from shapely.geometry import Point as ShapelyPoint
from shapely.geometry import Polygon as ShapelyPolygon

from classroom.site.figures import length_said
from classroom.site.isolated import isolated
from missions.ladder.mission_file import Document, missing_of, more_targets_of
from motion.course.plain_words import plainly
from motion.errors import MotionCode, SceneError
from motion.scene.checks import off_table, scene_problems
from motion.scene.contact import nose_of, precontact_of
from motion.scene.records import Noise, Obstacle, Polygon, Pose, RobotSpec, Scene, Target, Window, table_outline

#: A contact this far off the outline still counts as on it.
CONTACT_SLACK_MM = 3.0
OVERLAP_MM2 = 25.0


@dataclass(frozen=True)
class Problem:
    """``place`` is "table", "base", "start", "body", "contact", "name", "obstacle 2", "keep_out 0" or "target 1".

    ``tier`` is an index.

    A problem of the whole mission has ``tier`` None.
    """

    code: str
    words: str
    place: str
    tier: int | None = None
    stops: bool = True


def layout_problems(document: Document, footprint: list[list[list[float]]], unit: str = "mm") -> list[Problem]:
    """Everything wrong with a document's geometry for a robot with this footprint, worst first; lengths in ``unit``."""
    found: list[Problem] = []
    for i in range(len(document["tiers"])):
        scene = _scene(document, i, footprint)
        errors = scene_problems(scene)
        found += [_problem(error, i, document, unit) for error in errors]
        if not any(re.fullmatch(r"(target|targets\[\d\])\.body|base", error.place) for error in errors):
            found += _target_problems(scene, unit) if i == 0 else []
            for k, target in enumerate(scene.more_targets):
                alone = replace(scene, target=target, more_targets=())
                found += [replace(each, place=_numbered("target", k), tier=i) for each in _target_problems(alone, unit)]
            found += _overlaps(scene, i)
    found += _same_names(document)
    found.sort(key=lambda problem: not problem.stops)
    return list(dict.fromkeys(found))


def _numbered(kind: str, number: int) -> str:
    return f"{kind} {number}"


def _same_names(document: Document) -> Iterator[Problem]:
    """Tiers that nobody could tell apart."""
    seen: set[str] = set()
    for i, tier in enumerate(document["tiers"]):
        name = tier["name"].strip()
        if name.casefold() in seen:
            words = _(
                "Two tiers are called “%(name)s”, and nobody could tell them apart. Give each a name of its own."
            ) % {"name": isolated(name)}
            yield Problem("same_name", words, "name", i)
        seen.add(name.casefold())


def _scene(document: Document, tier: int, footprint: list[list[list[float]]]) -> Scene:
    start, rung = document["start"], document["tiers"][tier]
    parts = tuple(_ring(part) for part in footprint)
    return Scene(
        width_mm=document["table"]["width_mm"],
        depth_mm=document["table"]["depth_mm"],
        base=_ring(document["base"]),
        start=Pose(**start) if start else None,
        target=_target(document["target"], parts),
        more_targets=tuple(_target(target, parts) for target in more_targets_of(rung)),
        any_order=rung.get("order") == "any",
        obstacles=tuple(Obstacle(_ring(o["outline"]), o["name"]) for o in rung["obstacles"]),
        keep_outs=tuple(Obstacle(_ring(o["outline"]), o["name"]) for o in rung["keep_outs"]),
        robot=RobotSpec(parts, 250, 500, 120, 150, 500, 0.25, 20, 40, 10, 1),
        noise=Noise(0, 0, 0, 0, 0, 0),
        margin_mm=document["margin_mm"],
        missing=missing_of(document),
    )


def _target(target: dict[str, Any], parts: tuple[Polygon, ...]) -> Target:
    return Target(
        body=_ring(target["body"]),
        precontact=precontact_of(Pose(**target["contact"]), nose_of(parts), target["gap_mm"]),
        gap_mm=target["gap_mm"],
        push_mm=target["push_mm"],
        window=Window(**target["window"]),
        name=target["name"],
    )


def _ring(points: list[list[float]]) -> Polygon:
    return tuple((float(x), float(y)) for x, y in points)


def _problem(error: SceneError, tier: int, document: Document, unit: str) -> Problem:
    """A scene's error where the editor shows it, with the thing's own name."""
    message = str(plainly(error.message, unit))
    match = re.match(r"(obstacles|keep_outs)\[(\d+)\]", error.place)
    if match:
        thing = document["tiers"][tier][match[1]][int(match[2])]
        if thing["name"] and error.code == MotionCode.OBSTACLE_OFF_TABLE:
            message = str(off_table(thing["name"]))
        return Problem(error.code, message, _numbered(match[1][:-1], int(match[2])), tier)
    further = re.match(r"targets\[([1-9])\]", error.place)
    if further:
        return Problem(error.code, message, _numbered("target", int(further[1]) - 1), tier)
    at = error.place.replace("targets[0]", "target")
    if at in ("target.push_mm", "target.window.short_mm"):
        return Problem(error.code, message, "contact")
    own = {"target.body": "body", "target.precontact": "contact"}
    return Problem(error.code, message, own.get(at, re.split(r"[.\[]", at)[0]))


def _target_problems(scene: Scene, unit: str) -> Iterator[Problem]:
    target = scene.target
    nose = nose_of(scene.robot.footprint)
    pose, h = target.precontact, math.radians(target.precontact.heading_deg)
    ahead = nose.reach_mm + target.gap_mm
    contact = ShapelyPoint(
        pose.x_mm + ahead * math.cos(h) - nose.left_mm * math.sin(h),
        pose.y_mm + ahead * math.sin(h) + nose.left_mm * math.cos(h),
    )
    body = ShapelyPolygon(target.body)
    off = body.exterior.distance(contact)
    if off > CONTACT_SLACK_MM:
        words = _("The contact is %(off)s off the target's outline; move it onto the face that is pushed.") % {
            "off": length_said(off, unit)
        }
        yield Problem("contact_off_face", words, "contact")
    elif not body.buffer(-0.2).covers(shapely.affinity.translate(contact, 2 * math.cos(h), 2 * math.sin(h))):
        words = _("The push heading leads away from the target; turn it so that the arrow points into the body.")
        yield Problem("push_away", words, "contact")
    if body.intersection(ShapelyPolygon(scene.base)).area > OVERLAP_MM2:
        words = _("The target stands in the base; the robot must leave the base before it touches it.")
        yield Problem("target_in_base", words, "body")
    pushed = shapely.affinity.translate(body, target.push_mm * math.cos(h), target.push_mm * math.sin(h))
    table = ShapelyPolygon(table_outline(scene.width_mm, scene.depth_mm, scene.missing))
    if not table.buffer(0.01).covers(pushed):
        words = _("Pushed all the way, the target hangs over the table's edge. Is that meant?")
        yield Problem("pushed_off_table", words, "body", stops=False)


def _solid(outline: Polygon) -> ShapelyPolygon | None:
    """The outline as a shape; None for one that is reported as broken anyway."""
    shape = ShapelyPolygon(outline) if len(set(outline)) >= 3 else None
    return shape if shape is not None and shape.is_valid else None


def _overlaps(scene: Scene, tier: int) -> Iterator[Problem]:
    bodies, base = [ShapelyPolygon(target.body) for target in scene.targets], ShapelyPolygon(scene.base)
    things: list[tuple[str, Obstacle, Any]] = []
    for layer, rows in (("obstacle", scene.obstacles), ("keep_out", scene.keep_outs)):
        things += [(f"{layer} {i}", row, _solid(row.outline)) for i, row in enumerate(rows)]
    things = [thing for thing in things if thing[2] is not None]
    for at, (place, thing, shape) in enumerate(things):
        usual = _("keep-out") if place.startswith("keep_out") else _("obstacle")
        name = isolated(thing.name or usual)
        if any(shape.intersection(body).area > OVERLAP_MM2 for body in bodies):
            words = _("The %(name)s and the target overlap; the target could not stand there. Move one of them.") % {
                "name": name
            }
            yield Problem("overlaps_target", words, place, tier)
        if shape.intersection(base).area > OVERLAP_MM2:
            yield Problem(
                "overlaps_base",
                _("The %(name)s reaches into the base. Is that meant?") % {"name": name},
                place,
                tier,
                stops=False,
            )
        for other_place, other, other_shape in things[:at]:
            if place.split()[0] == other_place.split()[0] and shape.intersection(other_shape).area > OVERLAP_MM2:
                words = _("The %(name)s overlaps the %(other)s. If they are one thing, draw one outline.") % {
                    "name": name,
                    "other": isolated(other.name or _("other one")),
                }
                yield Problem("overlaps_other", words, place, tier, stops=False)
