"""Several targets one after another: which push is meant for which target, and what stands where meanwhile.

A course over several targets is a chain of errands. An errand is what a course for one target is: out to it, the push,
the back-off; the next one begins where that ended, and the last one comes home. While it lasts, its target is the only
one; those pushed before it are obstacles where the push left them, those that come after it obstacles where they are.
So everything that is known of a scene with one target holds of each errand's ``world``. A scene with one target has one
errand, whose world is the scene itself.
"""

from __future__ import annotations

import math
from collections.abc import Collection, Iterator, Sequence
from dataclasses import dataclass, replace
from functools import lru_cache

from shapely import Polygon as Shape

from motion.course.actions import Action, Push
from motion.ground.clearance import Stage, poses_of, stages_of
from motion.ground.named import TARGET_NAMES
from motion.scene.records import Obstacle, Pose, Scene

#: Which target a push is meant for where any order is allowed: the nearest, a degree counting as so many mm.
DEGREE_MM = 5.0
LEAST_AREA_MM2 = 1.0


@dataclass(frozen=True)
class Errand:
    """One target's part of a course.

    ``target`` is its index in ``scene.targets``, ``pushed`` are those of the targets before it, ``world`` is the scene
    with it alone. The errand's actions are those from
    ``first`` to before ``after``, its push among them at ``push``, None when the course has not got so far; ``stages``
    are theirs.
    """

    target: int
    pushed: frozenset[int]
    world: Scene
    first: int
    push: int | None
    after: int
    stages: tuple[Stage, ...]


def name_of(scene: Scene, target: int) -> str:
    """A target of several in words.

    Examples
    --------
    >>> from motion.scene.example import example_scene
    >>> name_of(example_scene(), 0)
    'tide gate'
    """
    return scene.targets[target].name or TARGET_NAMES[target]


@lru_cache(maxsize=64)
def world_of(scene: Scene, target: int, pushed: frozenset[int]) -> Scene:
    """The scene while one target is gone for and others have been pushed.

    Examples
    --------
    >>> from motion.scene.example import example_scene
    >>> scene = example_scene()
    >>> world_of(scene, 0, frozenset()) is scene
    True
    """
    if not scene.more_targets:
        return scene
    others = tuple(
        Obstacle(each.pushed_body if i in pushed else each.body, name_of(scene, i))
        for i, each in enumerate(scene.targets)
        if i != target
    )
    named = replace(scene.targets[target], name=name_of(scene, target))
    return replace(
        scene, target=named, obstacles=(*scene.obstacles, *others), more_targets=(), any_order=False, best_known=None
    )


def in_the_way(scene: Scene, target: int, pushed: Collection[int]) -> int | None:
    """The other target that would be met by this one's body on its push; None when none would.

    Examples
    --------
    >>> from motion.scene.example import example_scene
    >>> in_the_way(example_scene(), 0, ()) is None
    True
    """
    moved = scene.targets[target]
    passes = Shape(moved.body).union(Shape(moved.pushed_body)).convex_hull
    for i, other in enumerate(scene.targets):
        stands = Shape(other.pushed_body if i in pushed else other.body)
        if i != target and passes.intersection(stands).area > LEAST_AREA_MM2:
            return i
    return None


def meant_by(scene: Scene, pose: Pose, among: Collection[int]) -> int:
    """Which of some targets a push that begins at a pose is nearest to.

    Examples
    --------
    >>> from motion.scene.example import example_scene
    >>> meant_by(example_scene(), Pose(1000, 250, 0), [0])
    0
    """

    def away(target: int) -> float:
        at = scene.targets[target].precontact
        turned = abs(math.remainder(pose.heading_deg - at.heading_deg, 360))
        return math.hypot(pose.x_mm - at.x_mm, pose.y_mm - at.y_mm) + DEGREE_MM * turned

    return min(among, key=away)


def errands_of(scene: Scene, start: Pose, actions: Sequence[Action]) -> tuple[Errand, ...]:
    """The errands of a course, in its order; the last one, without a push, when targets are left.

    In a given order each push is the next target's; in any order it is that of the nearest one left. Pushes beyond the
    last target belong to its errand.

    Examples
    --------
    >>> from motion.course.example import example_course
    >>> from motion.scene.example import example_scene
    >>> scene = example_scene()
    >>> [(errand.first, errand.push, errand.after) for errand in errands_of(scene, scene.start, example_course())]
    [(0, 1, 3)]
    """
    stages = stages_of(actions)
    if not scene.more_targets:
        push = next((i for i, action in enumerate(actions) if isinstance(action, Push)), None)
        return (Errand(0, frozenset(), scene, 0, push, len(actions), stages),)
    return tuple(_errands(scene, poses_of(start, actions), actions, stages))


def _errands(
    scene: Scene, poses: Sequence[Pose], actions: Sequence[Action], stages: tuple[Stage, ...]
) -> Iterator[Errand]:
    left, pushed, first = list(range(len(scene.targets))), frozenset[int](), 0
    pushes = [i for i, action in enumerate(actions) if isinstance(action, Push)]
    while left:
        push = pushes.pop(0) if pushes else None
        target = left[0] if push is None or not scene.any_order else meant_by(scene, poses[push], left)
        left.remove(target)
        after = len(actions)
        if push is not None and left:
            after = next((i for i in range(push + 1, after) if stages[i].name != "back"), after)
        going_home = push is not None and not left
        own = tuple(
            replace(stage, name="out") if stage.name == "home" and (not going_home or i < push) else stage  # type: ignore[operator]
            for i, stage in enumerate(stages[first:after], first)
        )
        yield Errand(target, pushed, world_of(scene, target, pushed), first, push, after, own)
        if push is None:
            return
        pushed, first = pushed | {target}, after


def until_push(actions: Sequence[Action], errand: Errand) -> Sequence[Action]:
    """What is done of a course up to and with an errand's push.

    Examples
    --------
    >>> from motion.course.example import example_course
    >>> from motion.scene.example import example_scene
    >>> scene = example_scene()
    >>> (errand,) = errands_of(scene, scene.start, example_course())
    >>> [action.do for action in until_push(example_course(), errand)]
    ['drive', 'push']
    """
    return actions[: len(actions) if errand.push is None else errand.push + 1]
