"""From a scene to cheap clear courses: one phase out, one phase home, graph search then local refinement."""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass

import numpy as np

from motion.geometry import Body, Walls
from motion.kernels_refine import refine
from motion.kernels_search import search
from motion.kernels_task import SAME_HEADING, Task, wrapped
from motion.route import Action, Drive, Turn
from motion.scene import Pose, Robot
from motion.search_nodes import base_aims, positions

MAX_LEGS = 6
SLACK = 1.18


@dataclass(frozen=True)
class Leg:
    """One found path of a phase: exact turns (radians) and signed distances (mm), and what it costs in seconds."""

    cost: float
    turns: tuple[float, ...]  # before each leg, and one after the last
    distances: tuple[float, ...]
    points: tuple[tuple[float, float], ...]
    directions: tuple[float, ...]
    last_heading: float


def phase_task(
    robot: Robot,
    walls: Walls,
    body: Body,
    start: Pose,
    *,
    goal: Pose | None = None,
    base: Walls,
    base_body: Body,
    base_convex: bool,
    first_walls: Walls | None = None,
    first_body: Body | None = None,
    turn_price: float = 0.0,
) -> Task:
    """A phase for the compiled search; ``goal`` None ends it in the base, ``first_walls`` makes it back off first."""
    end = goal or start
    return Task(
        walls,
        walls if first_walls is None else first_walls,
        body,
        body if first_body is None else first_body,
        base,
        base_body,
        base_convex,
        float(start.x_mm),
        float(start.y_mm),
        math.radians(start.heading_deg),
        float(end.x_mm),
        float(end.y_mm),
        math.radians(end.heading_deg),
        goal is None,
        first_walls is not None,
        float(robot.speed_mm_s),
        float(robot.acceleration_mm_s2),
        math.radians(robot.turn_rate_deg_s),
        math.radians(robot.turn_acceleration_deg_s2),
        float(robot.settle_s),
        float(turn_price),
        max(float(robot.min_leg_mm), 1e-3),
        max(float(robot.min_back_off_mm), 1e-3),
    )


def _seeds(found, most: int) -> list[int]:
    """Indices of finished courses that differ: another number of legs or directions, or points far apart."""
    count, _costs, legs, points, directions, headings = found
    chosen: list[int] = []
    for i in range(count):
        for j in chosen:
            if legs[i] == legs[j] and np.array_equal(directions[i], directions[j]):
                apart = np.abs(points[i, : legs[i] - 1] - points[j, : legs[i] - 1])
                if apart.max(initial=0.0) < 110 and abs(wrapped(headings[i] - headings[j])) < 0.4:
                    break
        else:
            chosen.append(i)
            if len(chosen) == most:
                break
    return chosen


def find_paths(
    task: Task,
    slim: Sequence[Body] = (),
    *,
    seed: int = 0,
    effort: float = 1.0,
    tick: Callable[[float], None] | None = None,
) -> list[Leg]:
    """Clear paths of one phase, cheapest first, refined; empty when the search has none.

    Parameters
    ----------
    task
        The phase.
    slim
        The same body a little thinner, or several: the graph is searched with each of them, because a coarse graph
        seldom threads a narrow gap exactly; what is found is then moved until the true body is clear.
    seed
        Seed of the refinement's random steps; the same seed gives the same answer.
    effort
        Multiplies the steps of the refinement.
    tick
        Called with the fraction done; may raise to stop.
    """
    aims = base_aims(task) if task.into_base else np.zeros((1, 2))
    candidates = _sampled(task, aims, math.inf, seed + 50, effort)
    bodies = slim or (task.body,)
    for number, body in enumerate(bodies):
        thin = task._replace(body=body, first_body=body if slim else task.first_body)
        nodes, (count, lo, hi), first = positions(thin)
        found = search(thin, nodes, count, lo, hi, first, aims, MAX_LEGS, SLACK, 600)
        for place, i in enumerate(_seeds(found, 24)):
            best = min((c.cost for c in candidates), default=math.inf)
            candidates += _variants(task, found, i, aims, best * 1.12, seed + 100 * number + place, int(300 * effort))
        if tick:
            tick(0.8 * (number + 1) / len(bodies))
    candidates.sort(key=lambda item: item.cost)
    best = [
        _refined(task, item, aims, 40.0, 0.02, int(3000 * effort), seed + 100 + number)
        for number, item in enumerate(_apart(candidates)[:5])
    ]
    return sorted(best + candidates, key=lambda item: item.cost)


def _apart(paths: Sequence[Leg]) -> list[Leg]:
    """The paths (in order of cost) without those that nearly repeat an earlier one."""
    kept: list[Leg] = []
    for path in paths:
        if not any(same_path(path, other) for other in kept):
            kept.append(path)
    return kept


def same_path(a: Leg, b: Leg, within_mm: float = 25.0) -> bool:
    """Whether two paths have the same legs to within a distance."""
    if a.directions != b.directions:
        return False
    return all(math.dist(p, q) < within_mm for p, q in zip(a.points, b.points, strict=True))


def _sampled(task: Task, aims: np.ndarray, limit: float, seed: int, effort: float) -> list[Leg]:
    """Courses of few legs found by putting their turning points anywhere: they find slits that no grid hits."""
    shapes = [(2, True, False), (3, True, False)] if task.into_base else _GOAL_SHAPES
    if task.into_base and not task.backing:
        shapes = [(1, False, False), (2, False, False), *shapes]
    result: list[Leg] = []
    for number, (legs, first_held, last_held) in enumerate(shapes):
        way = np.zeros((legs, 2))
        way[-1] = (task.gx, task.gy)
        signs = np.ones(legs)
        if task.backing:
            signs[0] = -1.0
        best = min((item.cost * 1.1 for item in result), default=limit)
        if best == math.inf:
            best = 1e6
        cost, heading, turns = refine(
            task, legs, way, signs, 0.0, aims, best, first_held, last_held, 0,
            int(2500 * effort), int(400 * effort), 60.0, 1.0, seed + number + 1,
        )  # fmt: skip
        if cost < math.inf:
            result.append(_leg(task, cost, way, signs, heading, turns))
    return result


_GOAL_SHAPES = [(1, False, False), (2, False, False), (2, True, False), (2, False, True), (3, True, True)]


def _variants(task: Task, found, i: int, aims: np.ndarray, limit: float, seed: int, rounds: int) -> list[Leg]:
    """The course i as found, and with its first and last turning points moved onto the start and goal lines."""
    _, _, legs, points, directions, headings = found
    n = int(legs[i])
    result: list[Leg] = []
    for first_held in (False, True):
        for last_held in (False, True):
            if task.backing and not first_held and n > 1:
                continue
            if (first_held or last_held) and n < 2:
                continue
            if last_held and task.into_base:
                continue
            way = points[i, :n].copy()
            if first_held and not task.backing:
                _onto(way, 0, task.x, task.y, task.h)
            if last_held:
                _onto(way, n - 2, task.gx, task.gy, task.gh)
            signs = directions[i, :n].copy()
            if first_held and not task.backing:
                ahead = (way[0, 0] - task.x) * math.cos(task.h) + (way[0, 1] - task.y) * math.sin(task.h)
                signs[0] = 1.0 if ahead > 0 else -1.0
            cost, heading, turns = refine(
                task, n, way, signs, headings[i], aims, limit, first_held, last_held, rounds, 0, rounds, 60.0, 1.0,
                seed + 1,
            )  # fmt: skip
            if cost < math.inf:
                result.append(_leg(task, cost, way, signs, heading, turns))
    return result


def _onto(way: np.ndarray, k: int, x: float, y: float, h: float) -> None:
    t = (way[k, 0] - x) * math.cos(h) + (way[k, 1] - y) * math.sin(h)
    way[k] = (x + t * math.cos(h), y + t * math.sin(h))


def _refined(task: Task, leg: Leg, aims: np.ndarray, first: float, last: float, steps: int, seed: int) -> Leg:
    n = len(leg.directions)
    way, signs = np.array(leg.points), np.array(leg.directions)
    first_held = n > 1 and abs(leg.turns[0]) < SAME_HEADING
    last_held = n > 1 and not task.into_base and abs(leg.turns[-1]) < SAME_HEADING
    cost, heading, turns = refine(
        task, n, way, signs, leg.last_heading, aims, math.inf, first_held, last_held, 0, steps // 4, steps, first, last,
        seed + 1,
    )  # fmt: skip
    return _leg(task, cost, way, signs, heading, turns) if cost < leg.cost else leg


def _leg(task: Task, cost, way, signs, heading, turns) -> Leg:
    x, y = task.x, task.y
    distances = []
    for (px, py), sign in zip(way, signs, strict=True):
        distances.append(float(sign * math.hypot(px - x, py - y)))
        x, y = px, py
    points = tuple((float(px), float(py)) for px, py in way)
    return Leg(
        float(cost), tuple(float(t) for t in turns), tuple(distances), points, tuple(float(s) for s in signs),
        float(heading),
    )  # fmt: skip


def actions_of(leg: Leg, heading_deg: float) -> list[Action]:
    """Turns and drives of a path, starting at a heading; turns of nothing are left out."""
    actions: list[Action] = []
    heading = heading_deg
    for k, turn in enumerate(leg.turns):
        by = math.degrees(turn)
        if abs(turn) >= SAME_HEADING:
            heading += by
            actions.append(Turn(by, heading))
        if k < len(leg.distances):
            actions.append(Drive(leg.distances[k]))
    return actions


__all__ = ["Leg", "Sequence", "actions_of", "find_paths", "phase_task"]
