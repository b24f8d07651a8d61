"""From a scene to cheap clear courses: one phase out, one phase home, graph search then local refinement."""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass, field

import numpy as np

from motion.course.actions import Action, Drive, Turn
from motion.ground.geometry import Body
from motion.search.kernels.arcs import Graph
from motion.search.kernels.finish import GraphCourses
from motion.search.kernels.graph import search
from motion.search.kernels.moves import Tested, nothing_tested, take_known
from motion.search.kernels.refine import Held, Patience, refine
from motion.search.kernels.task import SAME_HEADING, Stand, Task
from motion.search.nodes import GRID_MM, base_aims, positions

MAX_LEGS = 6
SLACK = 1.18
#: How many different courses of the graph are refined.
SEEDS = 24


@dataclass(frozen=True)
class Way:
    """A way through one phase: exact turns (radians) and signed distances (mm), and what it costs in seconds."""

    cost: float
    turns: tuple[float, ...]  # before each leg, and one after the last
    distances: tuple[float, ...]
    points: tuple[tuple[float, float], ...]
    directions: tuple[float, ...]
    last_heading: float


@dataclass
class Explored:
    """What earlier searches of a phase, at whatever prices, left for later ones.

    ``aims`` to head for in the base; by the number of the body its graph, and what was found out about its legs.
    ``nearby``: a search among the same walls from a pose nearby, whose graph has most of the same positions.
    """

    aims: np.ndarray | None = None
    graphs: dict[int, tuple[Graph, Tested]] = field(default_factory=dict)
    nearby: Explored | None = None

    def tested(self, number: int, graph: Graph, aims: np.ndarray) -> Tested:
        """What is known of the legs of a body's graph before it is searched."""
        tested = nothing_tested(graph, len(aims))
        if self.nearby is not None and self.nearby.aims is not None and number in self.nearby.graphs:
            take_known(tested, graph, *self.nearby.graphs[number], same_aims=np.array_equal(aims, self.nearby.aims))
        return tested


def find_paths(
    task: Task,
    slim: Sequence[Body] = (),
    *,
    seed: int = 0,
    effort: float = 1.0,
    spacing: float = GRID_MM,
    levels: int = MAX_LEGS,
    explored: Explored | None = None,
    tick: Callable[[float], None] | None = None,
) -> list[Way]:
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
    spacing, levels
        Of the graph's grid (mm), and the most legs of a course.
    explored
        What earlier searches of this very phase at other prices left; filled.
    tick
        Called with the fraction done; may raise to stop.
    """
    explored = Explored() if explored is None else explored
    if explored.aims is None:
        explored.aims = base_aims(task) if task.trip.into_base else np.zeros((1, 2))
    aims, graphs = explored.aims, explored.graphs
    candidates: list[Way] = []
    bodies = slim or (task.body,)
    for number, body in enumerate(bodies):
        thin = task._replace(body=body, first_body=body if slim else task.first_body)
        if number not in graphs:
            graph = positions(thin, spacing)
            graphs[number] = graph, explored.tested(number, graph, aims)
        courses = search(thin, *graphs[number], aims, levels, SLACK, SEEDS)
        for i in range(courses.found):
            cheapest = min((c.cost for c in candidates), default=math.inf)
            luck, rounds = seed + 100 * number + i + 1, int(300 * effort)
            patience = Patience(cheapest * 1.12, rounds, 0, rounds, 60.0, 1.0, luck)
            candidates += _variants(task, courses, i, aims, patience)
        if tick:
            tick(0.8 * (number + 1) / len(bodies))
    cheapest = min((c.cost for c in candidates), default=math.inf)
    candidates += _sampled(task, aims, cheapest * 1.005, seed + 50, effort)
    candidates.sort(key=lambda item: item.cost)
    best = [
        _refined(task, item, aims, int(3000 * effort), seed + 100 + number)
        for number, item in enumerate(_apart(candidates)[:5])
    ]
    return sorted(best + candidates, key=lambda item: item.cost)


def _apart(paths: Sequence[Way]) -> list[Way]:
    """The paths (in order of cost) without those that nearly repeat an earlier one."""
    kept: list[Way] = []
    for path in paths:
        if not any(same_path(path, other) for other in kept):
            kept.append(path)
    return kept


def same_path(a: Way, b: Way, within_mm: float = 25.0) -> bool:
    """Whether two paths have the same legs to within a distance.

    Examples
    --------
    >>> straight, beside, back = (
    ...     Way(6.0, (0.0, 0.0), (300.0,), ((450.0, y),), (sign,), 0.0) for y, sign in ((250, 1.0), (260, 1.0), (250, -1.0))
    ... )
    >>> same_path(straight, beside), same_path(straight, back)
    (True, False)
    """
    if a.directions != b.directions:
        return False
    return all(math.dist(p, q) < within_mm for p, q in zip(a.points, b.points, strict=True))


def _sampled(task: Task, aims: np.ndarray, limit: float, seed: int, effort: float) -> list[Way]:
    """Courses of few legs found by putting their turning points anywhere: they find slits that no grid hits."""
    shapes = [(2, True, False), (3, True, False)] if task.trip.into_base else _GOAL_SHAPES
    if task.trip.backing and not task.trip.into_base:
        shapes = _ONWARD_SHAPES
    if task.trip.into_base and not task.trip.backing:
        shapes = [(1, False, False), (2, False, False), *shapes]
    result: list[Way] = []
    for number, (legs, first_held, last_held) in enumerate(shapes):
        way = np.zeros((legs, 2))
        way[-1] = (task.trip.goal.x, task.trip.goal.y)
        signs = np.ones(legs)
        if task.trip.backing:
            signs[0] = -1.0
        jumps = int((20_000 if (legs, first_held) == (2, False) else 6000) * effort)
        patience = Patience(min(limit, FOREVER), 0, jumps, int(400 * effort), 60.0, 1.0, seed + number + 1)
        cost, heading, turns = refine(task, way, signs, 0.0, aims, Held(first_held, last_held), patience)
        if cost < math.inf:
            result.append(_way(task, cost, way, signs, heading, turns))
    return result


#: Shapes of short courses to a pose: legs, first point on the start line, last turning point on the goal's line.
_GOAL_SHAPES = [(1, False, False), *[(2, False, False)] * 3, (2, True, False), (2, False, True), (3, True, True)]
#: Likewise of those that first back off one target and then go to the next.
_ONWARD_SHAPES = [(1, False, False), *[(2, True, False)] * 2, (3, True, False), (3, True, True)]
#: A cost in seconds that no course reaches: "any course will do" where a finite limit is asked.
FOREVER = 1e6


def _variants(task: Task, courses: GraphCourses, i: int, aims: np.ndarray, patience: Patience) -> list[Way]:
    """The course i as found, and with its first and last turning points moved onto the start and goal lines."""
    n = int(courses.legs[i])
    start, goal = task.trip.start, task.trip.goal
    result: list[Way] = []
    for first_held in (False, True):
        for last_held in (False, True):
            if task.trip.backing and not first_held and n > 1:
                continue
            if (first_held or last_held) and n < 2:
                continue
            if last_held and task.trip.into_base:
                continue
            way = courses.points[i, :n].copy()
            if first_held and not task.trip.backing:
                _onto(way, 0, start)
            if last_held:
                _onto(way, n - 2, goal)
            signs = courses.directions[i, :n].copy()
            if first_held and not task.trip.backing:
                ahead = (way[0, 0] - start.x) * math.cos(start.h) + (way[0, 1] - start.y) * math.sin(start.h)
                signs[0] = 1.0 if ahead > 0 else -1.0
            held = Held(first_held, last_held)
            cost, heading, turns = refine(task, way, signs, courses.headings[i], aims, held, patience)
            if cost < math.inf:
                result.append(_way(task, cost, way, signs, heading, turns))
    return result


def _onto(way: np.ndarray, k: int, stand: Stand) -> None:
    x, y, h = stand
    t = (way[k, 0] - x) * math.cos(h) + (way[k, 1] - y) * math.sin(h)
    way[k] = (x + t * math.cos(h), y + t * math.sin(h))


def _refined(task: Task, leg: Way, aims: np.ndarray, steps: int, seed: int) -> Way:
    n = len(leg.directions)
    way, signs = np.array(leg.points), np.array(leg.directions)
    first_held = n > 1 and abs(leg.turns[0]) < SAME_HEADING
    last_held = n > 1 and not task.trip.into_base and abs(leg.turns[-1]) < SAME_HEADING
    patience = Patience(math.inf, 0, steps // 4, steps, 40.0, 0.02, seed + 1)
    cost, heading, turns = refine(task, way, signs, leg.last_heading, aims, Held(first_held, last_held), patience)
    return _way(task, cost, way, signs, heading, turns) if cost < leg.cost else leg


def _way(task: Task, cost, way, signs, heading, turns) -> Way:
    x, y = task.trip.start.x, task.trip.start.y
    distances = []
    for (px, py), sign in zip(way, signs, strict=True):
        distances.append(float(sign * math.hypot(px - x, py - y)))
        x, y = px, py
    points = tuple((float(px), float(py)) for px, py in way)
    return Way(
        float(cost), tuple(float(t) for t in turns), tuple(distances), points, tuple(float(s) for s in signs),
        float(heading),
    )  # fmt: skip


def way_actions(leg: Way, heading_deg: float) -> list[Action]:
    """Turns and drives of a path, starting at a heading; turns of nothing are left out.

    Examples
    --------
    >>> way = Way(6.0, (math.pi / 2, 0.0), (300.0,), ((150.0, 550.0),), (1.0,), math.pi / 2)
    >>> way_actions(way, heading_deg=0.0)
    [Turn(by_deg=90.0, to_deg=90.0, do='turn'), Drive(distance_mm=300.0, do='drive')]
    """
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


def distinct(ways: list[Way], most: int, within_mm: float = 30.0) -> list[Way]:
    """The first ways that differ from each other by more than a distance at some turning point.

    Examples
    --------
    >>> near, far = ((400.0, 250.0),), ((400.0, 300.0),)
    >>> ways = [Way(cost, (0.0, 0.0), (250.0,), points, (1.0,), 0.0) for cost, points in ((2, near), (3, near), (4, far))]
    >>> [way.cost for way in distinct(ways, 3)]
    [2, 4]
    """
    kept: list[Way] = []
    for way in ways:
        if not any(
            other.directions == way.directions
            and all(math.dist(p, q) < within_mm for p, q in zip(other.points, way.points, strict=True))
            for other in kept
        ):
            kept.append(way)
            if len(kept) == most:
                break
    return kept
