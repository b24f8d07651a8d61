"""What to expect of a course: where it lands, what spreads it, how often it works; of several targets, at each."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any, NamedTuple

import numpy as np
from numpy.typing import NDArray

from motion.chance.landing import landing as predicted_landing
from motion.chance.landing import told_on
from motion.chance.many import chances_of_many
from motion.chance.montecarlo import success as predicted_success
from motion.chance.pace import within_limit
from motion.course.actions import Action, Meeting, Push, Success
from motion.course.times import course_seconds
from motion.ground.errands import Errand, until_push
from motion.scene.records import Pose, Scene


class Simulated(NamedTuple):
    """How runs are simulated for a check: how many, of which stream, or none; the room that each action leaves.

    ``stop``: as for :func:`motion.chance.montecarlo.success`.
    """

    runs: int
    seed: int
    quick: bool
    rooms: tuple[float, ...]
    stop: NDArray[np.int64] | None = None


def expected_of(
    scene: Scene,
    errands: Sequence[Errand],
    start: Pose,
    actions: Sequence[Action],
    told: Sequence[Action] | None,
    how: Simulated,
) -> dict[str, Any]:
    """The fields of a check that say what to expect; of a course that does not push each target once, nothing.

    >>> from motion.course.example import example_course
    >>> from motion.ground.errands import errands_of
    >>> from motion.scene.example import example_scene
    >>> scene, actions = example_scene(), example_course()
    >>> errands, how = errands_of(scene, scene.start, actions), Simulated(1000, 0, False, (50, 200, 100))
    >>> expected_of(scene, errands, scene.start, actions, None, how)["success"].probability
    1.0
    """
    if sum(isinstance(action, Push) for action in actions) != len(scene.targets):
        return {"landing": None, "success": None, "shares": ()}
    if scene.more_targets:
        return _expected_of_many(scene, errands, start, actions, told, how)
    landing, shares = predicted_landing(scene, start, actions, told=told)
    if how.quick:
        return {"landing": landing, "success": None, "shares": shares}
    success = predicted_success(
        scene, start, actions, runs=how.runs, seed=how.seed, rooms=how.rooms, told=told, stop=how.stop
    )
    return {"landing": landing, "success": _in_time(scene, actions, success), "shares": shares}


def _in_time(scene: Scene, actions: Sequence[Action], success: Success) -> Success:
    part = within_limit(course_seconds(scene.robot, actions)[0], scene.time_limit_s, scene.pace)
    return Success(success.probability * part, success.low * part, success.high * part, success.runs)


def _expected_of_many(
    scene: Scene,
    errands: Sequence[Errand],
    start: Pose,
    actions: Sequence[Action],
    told: Sequence[Action] | None,
    how: Simulated,
) -> dict[str, Any]:
    told = told_on(scene, start, actions) if told is None else told
    chances: tuple[Success, ...] | None = None
    if not how.quick:
        chances = chances_of_many(
            scene, start, actions, runs=how.runs, seed=how.seed, rooms=how.rooms, told=told, stop=how.stop
        )
    meetings = []
    for k, errand in enumerate(errands):
        landing, shares = predicted_landing(errand.world, start, until_push(actions, errand), told=told)
        chance = None if chances is None else chances[k + 1]
        name = errand.world.target.name
        meetings.append(Meeting(errand.target, name, errand.push or 0, landing, shares, chance))
    worst = min(meetings, key=lambda met: met.success.probability if met.success else -met.push)
    all_of_them = None if chances is None else _in_time(scene, actions, chances[0])
    return {
        "landing": worst.landing, "success": all_of_them, "shares": worst.shares, "meetings": tuple(meetings)
    }  # fmt: skip
