"""Courses and checks as lines of text, for the commands. Lengths in mm, headings as REP-103."""

from __future__ import annotations

import math
from collections.abc import Sequence

from django.utils.translation import gettext as _

from classroom.site.figures import figure_said
from motion.course.actions import Action, Check, PlannedCourse, Success, Tool, Touch, Turn
from motion.scene.records import Pose
from motion.units import figure, format_angle, format_length, turn_in_words


def course_lines(course: PlannedCourse) -> list[str]:
    check = course.check
    lines = [
        f"{course.aim.capitalize()} course: {figure(check.duration_s, 1)} s "
        f"(out {figure(check.outbound_s, 1)} s, home {figure(check.return_s, 1)} s), "
        f"{len(course.actions)} actions, at least {_mm(check.clearance_mm)} of room"
    ]
    if not course.rounded:
        lines.append("Numbers are exact, not rounded to what the robot can set.")
    lines += [_start_line(course.start), *action_lines(course.actions, check)]
    lines += chance_lines(check)
    if course.note:
        lines.append(course.note)
    return lines


def check_lines(actions: Sequence[Action], start: Pose, check: Check) -> list[str]:
    lines = [_start_line(start), *action_lines(actions, check)]
    if check.clear:
        lines.append(f"Clear: at least {_mm(check.clearance_mm)} of room. {figure(check.duration_s, 1)} s.")
        lines += chance_lines(check)
    else:
        lines += ["Not clear:"] + [f"  {_at(touch, len(actions))}: {touch.message}" for touch in check.touches]
    return lines


def _at(touch: Touch, count: int) -> str:
    if touch.action < 0:
        return "start"
    return f"action {touch.action + 1}" if touch.action < count else "end"


def action_lines(actions: Sequence[Action], check: Check) -> list[str]:
    lines = []
    for index, action in enumerate(actions):
        line = f"  {index + 1:2}  {_action_words(action):32}"
        if index < len(check.room_mm) and math.isfinite(check.room_mm[index]):
            line += f"room {_mm(check.room_mm[index])}"
            line += f" ({check.nearest[index]})" if check.nearest[index] else ""
        lines.append(line.rstrip())
    return lines


def chance_lines(check: Check) -> list[str]:
    """The chance that all works, and of several targets each one's."""
    if check.success is None:
        return []
    return [success_words(check.success), *([each_in_words(check)] if check.meetings else [])]


def each_in_words(check: Check) -> str:
    """ "Of 100 runs: fog bell 78, crate 52, both 41."; empty for one target."""
    chances = [(met.name, met.success) for met in check.meetings if met.success is not None]
    if not chances or check.success is None:
        return ""
    parts = ", ".join(f"{name} {figure_said(100 * chance.probability)}" for name, chance in chances)
    counts = {"parts": parts, "runs": figure_said(100 * check.success.probability)}
    if len(chances) == 2:
        return _("Of 100 runs: %(parts)s, both %(runs)s.") % counts
    return _("Of 100 runs: %(parts)s, all %(runs)s.") % counts


def success_words(success: Success) -> str:
    """The chance with what it rests on."""
    return (
        f"About {figure(success.probability * 100)} in 100 runs should work "
        f"({figure(success.low * 100, 1)} to {figure(success.high * 100, 1)}, from {success.runs:,} pretend runs)."
    )


def _action_words(action: Action) -> str:
    if isinstance(action, Turn):
        return f"turn {turn_in_words(action.by_deg)}, to {format_angle(action.to_deg)}"
    if isinstance(action, Tool):
        return f"{action.name}, {action.seconds:g} s"
    if action.do == "push":
        return f"push {_mm(action.distance_mm)}"
    return f"{'back up' if action.distance_mm < 0 else 'drive'} {_mm(abs(action.distance_mm))}"


def _start_line(start: Pose) -> str:
    return f"Start at x {_mm(start.x_mm)}, y {_mm(start.y_mm)}, heading {format_angle(start.heading_deg)}"


def _mm(value: float) -> str:
    return format_length(value, "mm", decimals=1) if math.isfinite(value) else "plenty"
