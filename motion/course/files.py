"""Reading and writing of course files (helmroom.course/1).

The schema is shipped beside this file in ``schema/``; the reader says more than it can (places, remedies).
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import Any

from motion.course.actions import Action, CourseDraft, Drive, PlannedCourse, Push, Tool, Turn
from motion.course.sentences import _, numeral
from motion.errors import MotionCode, SceneError
from motion.scene.file_fields import a_list, a_number, a_text, an_object, fail, parse_json
from motion.scene.files import pose_to_dict, read_pose
from motion.scene.records import Pose, Scene

COURSE_FORMAT = "helmroom.course/1"
MAX_ACTIONS = 200
MAX_COURSES = 20


def course_to_dict(scene: Scene, courses: Sequence[PlannedCourse]) -> dict[str, Any]:
    """Courses as they are written to a file.

    Examples
    --------
    >>> from motion.check import check_course
    >>> from motion.course.example import example_course
    >>> from motion.scene.example import example_scene
    >>> scene, actions = example_scene(), example_course()
    >>> check = check_course(scene, scene.start, actions, quick=True)
    >>> course = PlannedCourse("own", True, scene.margin_mm, scene.start, actions, check)
    >>> written = course_to_dict(scene, [course])
    >>> written["format"], written["courses"][0]["actions"][1]
    ('helmroom.course/1', {'do': 'push', 'distance_mm': 100})
    """
    return {"format": COURSE_FORMAT, "scene": scene.name, "courses": [_course_entry(c) for c in courses]}


def action_to_dict(action: Action) -> dict[str, Any]:
    """One action as written to files.

    Examples
    --------
    >>> action_to_dict(Turn(-90, 0)), action_to_dict(Drive(300))
    ({'do': 'turn', 'by_deg': -90, 'to_deg': 0}, {'do': 'drive', 'distance_mm': 300})
    """
    if isinstance(action, Turn):
        return {"do": "turn", "by_deg": action.by_deg, "to_deg": action.to_deg}
    if isinstance(action, Tool):
        return {"do": "tool", "name": action.name, "seconds": action.seconds}
    return {"do": action.do, "distance_mm": action.distance_mm}


def _course_entry(course: PlannedCourse) -> dict[str, Any]:
    check = course.check
    entry: dict[str, Any] = {
        "aim": course.aim,
        "rounded": course.rounded,
        "margin_mm": course.margin_mm,
        "start": pose_to_dict(course.start),
        "actions": [action_to_dict(a) for a in course.actions],
        "duration_s": round(check.duration_s, 4),
        "outbound_s": round(check.outbound_s, 4),
        "return_s": round(check.return_s, 4),
        "clearance_mm": round(check.clearance_mm, 3),
    }
    if check.success is not None:
        s = check.success
        entry["success"] = {"probability": s.probability, "low": s.low, "high": s.high, "runs": s.runs}
    each = [(met, met.success) for met in check.meetings if met.success is not None]
    if each:
        entry["targets"] = [
            {"name": met.name, "probability": s.probability, "low": s.low, "high": s.high, "runs": s.runs}
            for met, s in each
        ]
    if course.note:
        entry["note"] = course.note
    return entry


def read_course(data: bytes | str, scene: Scene) -> tuple[CourseDraft, ...]:
    """Read a course file for a scene.

    Predictions in the file are checked for type and left out: they are computed anew.

    Raises
    ------
    SceneError
        As :func:`read_scene`.

    Examples
    --------
    >>> import json
    >>> from motion.scene.example import example_scene
    >>> file = {"format": COURSE_FORMAT, "courses": [{"actions": [{"do": "turn", "by_deg": 90}]}]}
    >>> (draft,) = read_course(json.dumps(file), example_scene())
    >>> draft.aim, draft.start, draft.actions
    ('own', Pose(x_mm=150, y_mm=250, heading_deg=0), (Turn(by_deg=90.0, to_deg=90.0, do='turn'),))
    """
    top = an_object(parse_json(data), "", ("format", "courses"), ("scene",))
    if top["format"] != COURSE_FORMAT:
        fail(
            MotionCode.WRONG_FORMAT,
            _('This is not a course file: "format" must be "{format}".', format=COURSE_FORMAT),
            "format",
        )
    a_text(top.get("scene", ""), "scene")
    courses = a_list(top["courses"], "courses", MAX_COURSES, _("courses"))
    if not courses:
        fail(MotionCode.NO_COURSE, _("The file has no course in it."), "courses")
    return tuple(_draft(item, f"courses[{i}]", scene) for i, item in enumerate(courses))


def _draft(value: Any, place: str, scene: Scene) -> CourseDraft:
    predicted = ("duration_s", "outbound_s", "return_s", "clearance_mm", "success", "targets", "note")
    entry = an_object(value, place, ("actions",), ("aim", "rounded", "margin_mm", "start", *predicted))
    if entry.get("start") is not None:
        start = read_pose(entry["start"], f"{place}.start")
    elif scene.start is not None:
        start = scene.start
    else:
        raise SceneError(
            MotionCode.MISSING_KEY, _('The scene leaves the start open, so the course must have a "start".'), place
        )
    if not isinstance(entry.get("rounded", False), bool):
        fail(MotionCode.WRONG_TYPE, _("Expected true or false."), f"{place}.rounded")
    aim = entry.get("aim", "own")
    if aim not in ("fastest", "simplest", "steadiest", "own"):
        fail(MotionCode.WRONG_VALUE, _('Must be "fastest", "simplest", "steadiest" or "own".'), f"{place}.aim")
    items = a_list(entry["actions"], f"{place}.actions", MAX_ACTIONS, _("actions"))
    actions = actions_from_list(items, start, f"{place}.actions")
    margin = a_number(entry.get("margin_mm", scene.margin_mm), f"{place}.margin_mm", 0, 500, "mm")
    return CourseDraft(aim, bool(entry.get("rounded", False)), margin, start, actions)


def actions_from_list(items: Sequence[Any], start: Pose, place: str = "actions") -> tuple[Action, ...]:
    """Actions from parsed JSON; a turn's ``to_deg`` may be left out, and must agree with ``by_deg`` when given.

    Examples
    --------
    >>> actions_from_list([{"do": "turn", "by_deg": 30}], Pose(100, 250, 90))
    (Turn(by_deg=30.0, to_deg=120.0, do='turn'),)
    >>> actions_from_list([{"do": "turn", "by_deg": 30, "to_deg": 100}], Pose(100, 250, 90))
    Traceback (most recent call last):
    motion.errors.SceneError: actions[0]: Turning by 30 degrees leads to 120, not 100; correct one.
    """
    actions: list[Action] = []
    heading = start.heading_deg
    for i, item in enumerate(items):
        at = f"{place}[{i}]"
        do = item.get("do") if isinstance(item, dict) else None
        if do == "turn":
            turn = an_object(item, at, ("do", "by_deg"), ("to_deg",))
            by = a_number(turn["by_deg"], f"{at}.by_deg", -3600, 3600, "degrees")
            heading += by
            to = (
                heading
                if turn.get("to_deg") is None
                else a_number(turn["to_deg"], f"{at}.to_deg", -7200, 7200, "degrees")
            )
            if abs(math.remainder(to - heading, 360)) > 0.01:
                message = _(
                    "Turning by {by} degrees leads to {turned}, not {to}; correct one.",
                    by=numeral(f"{by:g}"),
                    turned=numeral(f"{math.remainder(heading, 360):g}"),
                    to=numeral(f"{to:g}"),
                )
                fail(MotionCode.TURN_DISAGREES, message, at)
            actions.append(Turn(by, to))
        elif do in ("drive", "push"):
            leg = an_object(item, at, ("do", "distance_mm"))
            distance = a_number(leg["distance_mm"], f"{at}.distance_mm", -50_000, 50_000, "mm")
            actions.append(Drive(distance) if do == "drive" else Push(distance))
        elif do == "tool":
            tool = an_object(item, at, ("do", "name", "seconds"))
            if tool["name"] not in ("lower", "raise", "wait"):
                fail(MotionCode.WRONG_VALUE, _('A tool action is "lower", "raise" or "wait".'), f"{at}.name")
            actions.append(Tool(tool["name"], a_number(tool["seconds"], f"{at}.seconds", 0, 600, "s")))
        else:
            fail(MotionCode.WRONG_VALUE, _('Every action needs "do": "turn", "drive", "push" or "tool".'), at)
    return tuple(actions)
