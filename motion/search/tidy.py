"""Courses without what they can do without: two legs that one replaces, turns of next to nothing, legs of a hair."""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import replace

from motion.check import TOLERANCE_MM, check_course
from motion.course.actions import Action, Drive, Push, Turn
from motion.course.times import course_seconds
from motion.ground.clearance import action_room, poses_of, stages_of
from motion.scene.records import Pose
from motion.search.parts import PartFinder
from motion.search.wholes import Whole

#: A turn of less than this, and a leg of less than this, are not worth an action.
LEAST_TURN_DEG, LEAST_LEG_MM = 0.1, 1.0


class Tidier:
    """Makes courses of a scene tidy."""

    def __init__(self, finder: PartFinder) -> None:
        self.finder = finder
        self._known: dict[tuple, Whole] = {}

    def tidied(self, whole: Whole) -> Whole:
        """The course after every change that takes an action away, is clear and takes no longer."""
        key = (whole.out.start, whole.actions)
        if key not in self._known:
            self._known[key] = self._tidied(whole)
        return self._known[key]

    def _tidied(self, whole: Whole) -> Whole:
        scene, start = self.finder.scene, whole.out.start
        actions, better = whole.actions, True
        while better:
            better = False
            seconds = course_seconds(scene.robot, actions)[0]
            for shorter in simpler(start, actions, scene.robot.turn_step_deg if not self.finder.exact else 0.0):
                self.finder.tick()
                if course_seconds(scene.robot, shorter)[0] > seconds + 1e-9 or self._too_short(shorter):
                    continue
                if not self._meets(start, shorter) and check_course(scene, start, shorter, quick=True).clear:
                    actions, better = shorter, True
                    break
        return whole if actions == whole.actions else self._whole(whole, actions)

    def _meets(self, start: Pose, actions: Sequence[Action]) -> bool:
        """Whether an action out or home comes too near something: told sooner than all that is wrong with a course."""
        ground, margin_mm = self.finder.phases.ground, self.finder.scene.margin_mm
        return any(
            stage.name in ("out", "home") and action_room(ground, stage, pose, action)[0] < margin_mm - TOLERANCE_MM
            for stage, pose, action in zip(stages_of(actions), poses_of(start, actions), actions, strict=False)
        )

    def _too_short(self, actions: Sequence[Action]) -> bool:
        least = self.finder.scene.robot.min_leg_mm - 1e-9
        return any(isinstance(action, Drive) and abs(action.distance_mm) < least for action in actions)

    def _whole(self, whole: Whole, actions: tuple[Action, ...]) -> Whole:
        robot, poses = self.finder.scene.robot, poses_of(whole.out.start, actions)
        at = next(i for i, action in enumerate(actions) if isinstance(action, Push)) + 1
        _, out_s, home_s = course_seconds(robot, actions)
        out = replace(whole.out, actions=actions[:at], end=poses[at], seconds=out_s)
        return Whole(out, replace(whole.home, start=poses[at], actions=actions[at:], end=poses[-1], seconds=home_s))


def simpler(start: Pose, actions: Sequence[Action], turn_step_deg: float) -> Iterator[tuple[Action, ...]]:
    """Courses with one thing less, each to where the course went or nearly so; what is clear is not looked at.

    ``turn_step_deg`` 0 for exact numbers. In whole steps legs are put together only where no turn is between them.

    >>> course = (Drive(830), Push(100), Drive(-760), Drive(-20))
    >>> [[action.distance_mm for action in shorter] for shorter in simpler(Pose(0, 0, 0), course, 1.0)]
    [[830, 100, -780]]
    """
    poses = poses_of(start, actions)
    for i, action in enumerate(actions):
        before, after = tuple(actions[:i]), tuple(actions[i + 1 :])
        if isinstance(action, Turn) and abs(action.by_deg) < LEAST_TURN_DEG:
            yield (*before, *_turned_by(after, action.by_deg))
        if not isinstance(action, Drive):
            continue
        if abs(action.distance_mm) < LEAST_LEG_MM:
            yield (*before, *after)
        following = next((k for k in range(i + 1, len(actions)) if not isinstance(actions[k], Turn)), len(actions))
        if following == len(actions) or not isinstance(actions[following], Drive):
            continue
        other = actions[following]
        assert isinstance(other, Drive)
        if following == i + 1:
            total = round(action.distance_mm + other.distance_mm, 9)
            yield (*before, Drive(total), *actions[i + 2 :])
        elif turn_step_deg == 0.0:
            yield from _by_chord(poses, actions, i, following)


def _turned_by(actions: tuple[Action, ...], by_deg: float) -> tuple[Action, ...]:
    """Actions whose next turn takes a turn over that was left out."""
    for i, action in enumerate(actions):
        if isinstance(action, Turn):
            return (*actions[:i], Turn(action.by_deg + by_deg, action.to_deg), *actions[i + 1 :])
    return actions


def _by_chord(
    poses: Sequence[Pose], actions: Sequence[Action], first: int, second: int
) -> Iterator[tuple[Action, ...]]:
    """Two legs as one straight one, ahead or back, with the turns that it takes."""
    begin, end = poses[first], poses[second + 1]
    far = math.dist((begin.x_mm, begin.y_mm), (end.x_mm, end.y_mm))
    if far < LEAST_LEG_MM:
        return
    toward = math.degrees(math.atan2(end.y_mm - begin.y_mm, end.x_mm - begin.x_mm))
    turn_before = first > 0 and isinstance(actions[first - 1], Turn)
    turn_after = second + 1 < len(actions) and isinstance(actions[second + 1], Turn)
    came = poses[first - 1].heading_deg if turn_before else begin.heading_deg
    goes = poses[second + 2].heading_deg if turn_after else end.heading_deg
    left_over = second + 1 == len(actions)  # how the robot stands in the base does not matter
    for sign, heading in ((1.0, toward), (-1.0, toward + 180.0)):
        made: list[Action] = [*actions[: first - turn_before]]
        into = math.remainder(heading - came, 360)
        if abs(into) >= LEAST_TURN_DEG:
            made.append(Turn(into, came + into))
        made.append(Drive(sign * far))
        out = math.remainder(goes - came - into, 360)
        if abs(out) >= LEAST_TURN_DEG and not left_over:
            made.append(Turn(out, came + into + out))
        made += actions[second + 1 + turn_after :]
        if len(made) < len(actions):
            yield tuple(made)
