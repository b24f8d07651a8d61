"""Courses in numbers that a team can set: all numbers of a way rounded jointly, so that their errors cancel.

Headings become the start heading plus whole turn steps (which is what both absolute and relative turns can reach),
distances whole distance steps. Every leg's heading and all but the last two distances are tried a step or two either
side; the last two distances are solved; the window is tested first (cheap), then clearance exactly. When nothing fits,
the longest leg is split in two.
"""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np

from motion.course.actions import Action, Drive, Turn
from motion.scene.contact import Nose, nose_of
from motion.scene.records import Pose, RobotSpec, Target
from motion.search.kernels.rounding import (
    Arrival,
    Exact,
    Freedom,
    Shortlist,
    Steps,
    next_clear,
    round_into_base,
    round_to_goal,
)
from motion.search.kernels.task import SAME_HEADING, Task
from motion.search.paths import Way

#: How much of the window to the side a rounded course may use up, and the seconds that using all of that is worth.
SIDE_SHARE = 0.4
SIDE_SHARE_AT_MOST = 0.8
SIDE_PRICE_S = 0.4
#: How many legs and turns are tested for clearance while a way is rounded, and how many clear roundings are kept.
CHECKS, KEPT = 20_000, 60
#: The same where a great many ways are rounded and few of them matter; then only the first attempt of each is made.
BRIEF_CHECKS, BRIEF_KEPT = 1_000, 6


@dataclass(frozen=True)
class Rounded:
    """A way in whole steps: its actions, where it ends, and the push that goes with it (None on the way home)."""

    actions: tuple[Action, ...]
    end: Pose
    push_mm: float | None


def _whole(count: int, step: float) -> float:
    """``count`` steps without the dust of binary fractions."""
    return round(count * step, 9)


def _split(way: Way) -> Way:
    """The way with its longest leg cut in two."""
    longest = max(range(len(way.distances)), key=lambda i: abs(way.distances[i]))
    d = way.distances[longest]
    distances = (*way.distances[:longest], 0.55 * d, 0.45 * d, *way.distances[longest + 1 :])
    directions = (*way.directions[: longest + 1], *way.directions[longest:])
    turns = (*way.turns[: longest + 1], 0.0, *way.turns[longest + 1 :])
    return Way(way.cost, turns, distances, way.points, directions, way.last_heading)


def _headings(task: Task, way: Way) -> np.ndarray:
    """Headings of the legs (rad), unwound along the turns as they are really made."""
    return task.trip.start.h + np.cumsum(np.array(way.turns[: len(way.distances)]))


def _exact(task: Task, way: Way) -> Exact:
    return Exact(task.trip.start, _headings(task, way), np.array(way.distances), task.trip.handling, task)


def _steps(task: Task, robot: RobotSpec) -> Steps:
    return Steps(task.trip.start.h, math.radians(robot.turn_step_deg), float(robot.distance_step_mm))


def _freedom(way: Way, first_fixed: bool, last_fixed: bool, wide: bool, checks: int = CHECKS) -> Freedom:
    """All legs are rounded together; of many legs the last ones are varied first, until the checks are used up."""
    return Freedom(first_fixed, last_fixed, 2 if wide and len(way.distances) <= 4 else 1, checks)


def rounded_to_goal(
    task: Task, way: Way, start: Pose, robot: RobotSpec, target: Target, most: int, *, brief: bool = False
) -> list[Rounded]:
    """The best clear ways in whole steps to the pre-contact pose, each with its push.

    Parameters
    ----------
    task
        The phase with the margin that must hold for the rounded numbers.
    way
        An exact way, best planned with more room than that.
    start
        Pose at which the way begins; headings are whole steps from its heading.
    most
        How many are wanted.
    brief
        Whether to make one short attempt only.
    """
    found: list[Rounded] = []
    for candidate, share, wide in [(way, SIDE_SHARE, False)] if brief else _attempts(way):
        for item in _round_once(task, candidate, start, robot, target, share, wide, brief=brief):
            found.append(item)
            if len(found) == most:
                return found
        if found:
            return found
    return found


def _attempts(way: Way) -> Iterator[tuple[Way, float, bool]]:
    yield way, SIDE_SHARE, False
    yield way, SIDE_SHARE, True
    yield _split(way), SIDE_SHARE, False
    yield way, SIDE_SHARE_AT_MOST, True
    yield _split(way), SIDE_SHARE_AT_MOST, True
    yield _split(_split(way)), SIDE_SHARE_AT_MOST, False


def _round_once(
    task: Task,
    way: Way,
    start: Pose,
    robot: RobotSpec,
    target: Target,
    share: float,
    wide: bool,
    *,
    brief: bool = False,
) -> Iterator[Rounded]:
    exact, steps = _exact(task, way), _steps(task, robot)
    final = float(exact.headings[-1] + way.turns[-1])
    goal_step = round((final - task.trip.start.h) / steps.turn)
    lean_deg = math.degrees(goal_step * steps.turn - (final - task.trip.start.h))
    if abs(lean_deg) > share * 2 * target.window.heading_deg or abs(lean_deg) > target.window.heading_deg:
        return
    first_fixed = abs(way.turns[0]) < SAME_HEADING
    last_fixed = abs(way.turns[-1]) < SAME_HEADING and len(way.distances) > 1
    freedom = _freedom(way, first_fixed, last_fixed, wide, BRIEF_CHECKS if brief else CHECKS)
    lateral, push_leg, gap = share * target.window.lateral_mm, float(target.push_leg_mm), float(target.gap_mm)
    nose = nose_of(robot.working_footprint or robot.footprint)
    arrival = Arrival(task.trip.goal, lateral, goal_step, push_leg, gap, float(nose.reach_mm), SIDE_PRICE_S)
    count, listed = round_to_goal(exact, steps, freedom, arrival, BRIEF_KEPT if brief else KEPT)
    for made in _clear_ones(task, listed, count, goal_step, start, robot):
        push = _push_for(made[1], target, nose, steps.distance)
        if push is not None:
            yield Rounded(made[0], made[1], push)


def _push_for(pose: Pose, target: Target, nose: Nose, step_mm: float) -> float | None:
    """The whole number of steps to push that ends, at the nose, nearest the middle of the window; None when none is in it."""
    h = math.radians(target.precontact.heading_deg)
    along = (pose.x_mm - target.precontact.x_mm) * math.cos(h) + (pose.y_mm - target.precontact.y_mm) * math.sin(h)
    lean = math.radians(pose.heading_deg - target.precontact.heading_deg)
    along += nose.reach_mm * (math.cos(lean) - 1) - nose.left_mm * math.sin(lean)
    middle = (target.window.long_mm - target.window.short_mm) / 2
    push = _whole(round((target.push_leg_mm + middle - along) / math.cos(lean) / step_mm), step_mm)
    over = along + push * math.cos(lean) - target.push_leg_mm
    inside = -target.window.short_mm * 0.95 <= over <= target.window.long_mm * 0.95
    return push if inside and push > 0 else None


def _clear_ones(
    task: Task, listed: Shortlist, count: int, goal_step: int | None, start: Pose, robot: RobotSpec
) -> Iterator[tuple[tuple[Action, ...], Pose]]:
    """Actions and end pose of every rounded way that is clear, in their order."""
    if count == 0:
        return
    turn_steps, distance_steps, steps = listed.turn_steps[:count], listed.distance_steps[:count], _steps(task, robot)
    final = steps.h0 + (goal_step or 0) * steps.turn
    points, turns = np.zeros((turn_steps.shape[1], 2)), np.zeros(turn_steps.shape[1] + 1)
    k = next_clear(task, turn_steps, distance_steps, steps, final, 0, points, turns)
    while k < count:
        made = _in_actions(turn_steps[k], distance_steps[k], goal_step, start, robot, points, turns)
        if made is not None:
            yield made
        k = next_clear(task, turn_steps, distance_steps, steps, final, k + 1, points, turns)


def _in_actions(
    turn_steps: np.ndarray,
    distance_steps: np.ndarray,
    goal_step: int | None,
    start: Pose,
    robot: RobotSpec,
    points: np.ndarray,
    turns: np.ndarray,
) -> tuple[tuple[Action, ...], Pose] | None:
    """Actions and end pose of a rounded way; None when a turn the free way round is no whole steps."""
    step_deg, step_mm = float(robot.turn_step_deg), float(robot.distance_step_mm)
    actions: list[Action] = []
    at, steps = 0, [int(n) for n in turn_steps] + ([] if goal_step is None else [goal_step])
    for i, count in enumerate(steps):
        by = _as_turned((count - at) * step_deg, math.degrees(turns[i]), step_deg)
        if by is None:
            return None
        at = round(at + by / step_deg)
        if abs(by) > 1e-9:
            actions.append(Turn(by, _whole(at, step_deg) + start.heading_deg))
        if i < len(distance_steps):
            actions.append(Drive(_whole(int(distance_steps[i]), step_mm)))
    end = Pose(float(points[-1, 0]), float(points[-1, 1]), start.heading_deg + _whole(at, step_deg))
    return tuple(actions), end


def _as_turned(by_deg: float, turned_deg: float, step_deg: float) -> float | None:
    """The turn in whole steps that goes the way that was found free; None when full circles are no whole steps."""
    circles = round((turned_deg - by_deg) / 360)
    by = by_deg + 360 * circles
    if abs(by - turned_deg) > 1e-6 or abs(by / step_deg - round(by / step_deg)) > 1e-6:
        return None
    return _whole(round(by / step_deg), step_deg)


def rounded_into_base(task: Task, way: Way, start: Pose, robot: RobotSpec, most: int) -> list[Rounded]:
    """The quickest clear ways home in whole steps, along an exact way planned with more room."""
    found: list[Rounded] = []
    first_fixed = task.trip.backing or abs(way.turns[0]) < SAME_HEADING
    for wide in (False, True):
        if wide and len(way.distances) > 4:
            break
        freedom = _freedom(way, first_fixed, False, wide)
        exact, steps = _exact(task, way), _steps(task, robot)
        count, listed = round_into_base(exact, steps, freedom, task.trip.backing, KEPT)
        for made in _clear_ones(task, listed, count, None, start, robot):
            found.append(Rounded(*made, None))
            if len(found) == most:
                return found
        if found:
            break
    return found
