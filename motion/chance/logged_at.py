"""Runs over several targets by the target where they were measured."""

from __future__ import annotations

from motion.chance.logged import Logged
from motion.ground.errands import errands_of, until_push


def logged_at(logged: Logged, target: int) -> Logged | None:
    """Misses that were measured at one of several targets, as those of the course that ends there.

    The course is driven up to the push that is meant for that target; None when it never pushes it. The runs of which no
    miss is known stay with the whole course.

    >>> from motion.chance.logged import Miss
    >>> from motion.course.example import example_course
    >>> from motion.scene.example import example_scene
    >>> scene = example_scene()
    >>> there = logged_at(Logged(scene, scene.start, example_course(), (Miss(lateral_mm=4),)), 0)
    >>> [action.do for action in there.actions]
    ['drive', 'push']
    """
    for errand in errands_of(logged.scene, logged.start, logged.actions):
        if errand.target == target and errand.push is not None:
            actions = tuple(until_push(logged.actions, errand))
            told = None if logged.told is None else logged.told[: len(actions)]
            return Logged(errand.world, logged.start, actions, logged.misses, told)
    return None
