"""In which order several targets are pushed: the cheapest first, each phase searched for only when it may matter.

A course is a chain of phases: to the end of each push, then home. What stands where in a phase depends only on which
targets have been pushed, so that orders share phases. Straight ways bound what an order can cost, and one that cannot be
nearly the best is not searched for.
"""

from __future__ import annotations

import itertools
import math
from collections.abc import Callable
from dataclasses import dataclass

from motion.course.actions import Action, Tool
from motion.course.times import course_seconds, move_seconds
from motion.ground.errands import in_the_way
from motion.scene.records import Pose, RobotSpec, Scene
from motion.search.parts import Part
from motion.search.phases import push_end

#: Says the cheapest part, None when there is none: of the targets pushed so far, what comes next (None: home), from where.
FindPart = Callable[[tuple[int, ...], int | None, Pose | None], Part | None]


#: How much dearer than the cheapest order another one may be and still be looked at.
SLACK = 1.1


def least_seconds(robot: RobotSpec, start: Pose, goal: Pose) -> float:
    """A bound on the time from a pose to another: the straight way and the least turn.

    Examples
    --------
    >>> from motion.scene.example import example_scene
    >>> round(least_seconds(example_scene().robot, Pose(150, 250, 0), Pose(1050, 250, 0)), 6)
    4.1
    """
    turn = abs(math.remainder(goal.heading_deg - start.heading_deg, 360))
    far = math.dist((start.x_mm, start.y_mm), (goal.x_mm, goal.y_mm))
    turning = move_seconds(turn, robot.turn_rate_deg_s, robot.turn_acceleration_deg_s2) + robot.settle_s
    return far / robot.speed_mm_s + robot.settle_s + (turning if turn > 1e-6 else 0.0)


def possible_orders(scene: Scene) -> list[tuple[int, ...]]:
    """Orders in which no target is pushed into another one.

    Examples
    --------
    >>> from motion.scene.example import example_scene
    >>> possible_orders(example_scene())
    [(0,)]
    """
    indices = range(len(scene.targets))
    orders = itertools.permutations(indices) if scene.any_order else [tuple(indices)]
    return [
        order for order in orders if all(in_the_way(scene, each, order[:k]) is None for k, each in enumerate(order))
    ]


@dataclass(frozen=True)
class Tour:
    """A whole course over several targets: parts to the end of each push in the order of ``order``, then home."""

    order: tuple[int, ...]
    parts: tuple[Part, ...]

    @property
    def start(self) -> Pose:
        """Where it begins."""
        return self.parts[0].start

    @property
    def actions(self) -> tuple[Action, ...]:
        """All actions in order."""
        return tuple(action for part in self.parts for action in part.actions)

    @property
    def moves(self) -> int:
        """How many turns and legs it has."""
        return sum(not isinstance(action, Tool) for action in self.actions)

    def seconds(self, robot: RobotSpec) -> float:
        """How long it takes."""
        return course_seconds(robot, self.actions)[0]


def cheapest_tours(scene: Scene, find: FindPart, price: Callable[[Part], float], slack: float = SLACK) -> list[Tour]:
    """The cheapest tour of each order that may be within ``slack`` of the best, cheapest first.

    Orders are looked into by the bound on their straight ways, and given up where that says that they are dearer.
    """
    found: list[tuple[float, Tour]] = []
    for order in sorted(possible_orders(scene), key=lambda order: least_to_come(scene, order)[0]):
        bounds, spent = least_to_come(scene, order), 0.0
        parts: list[Part] = []
        for k, after in enumerate((*order, None)):
            if spent + bounds[k] > slack * min((cost for cost, _ in found), default=math.inf):
                break
            part = find(order[:k], after, parts[-1].end if parts else None)
            if part is None:
                break
            parts.append(part)
            spent += price(part)
        else:
            found.append((spent, Tour(order, tuple(parts))))
    return [tour for _, tour in sorted(found, key=lambda item: item[0])]


def _step(scene: Scene, pushed: tuple[int, ...], target: int) -> float:
    """A bound on the phase to a target after others."""
    goal = scene.targets[target].precontact
    if pushed:
        last = scene.targets[pushed[-1]]
        window = last.window.short_mm + last.window.long_mm  # where exactly the push ended is not known yet
        begin = push_end(scene, last.precontact, last.push_leg_mm)
        slack = (window + last.window.lateral_mm) / scene.robot.speed_mm_s
        return max(0.0, _straight(scene.robot, begin, goal) - slack)
    return 0.0 if scene.start is None else least_seconds(scene.robot, scene.start, goal)


def _straight(robot: RobotSpec, begin: Pose, goal: Pose) -> float:
    return math.dist((begin.x_mm, begin.y_mm), (goal.x_mm, goal.y_mm)) / robot.speed_mm_s + robot.settle_s


def least_to_come(scene: Scene, order: tuple[int, ...]) -> list[float]:
    """Of an order: a bound on the seconds that are still to come after each number of targets.

    >>> from motion.scene.example import example_scene
    >>> [round(seconds, 6) for seconds in least_to_come(example_scene(), (0,))]
    [4.1, 0]
    """
    steps = [_step(scene, order[:k], target) for k, target in enumerate(order)]
    return [sum(steps[k:]) for k in range(len(steps) + 1)]
