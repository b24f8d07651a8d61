"""The Open Motion Planning Library's RRT* on the same phase: turn in place, drive straight, turn in place.

An unequal match, said so wherever it is quoted: a general planner, called from Python for every test and cost, against
a search made for this one motion. OMPL comes with the ``bench`` extra; without it the figures say so.
"""

from __future__ import annotations

import itertools
import math

from numba import njit

from motion.course.actions import Action, Drive, Turn
from motion.ground.kernels import leg_free
from motion.search.kernels.task import Task, free_turn, leg_cost, turn_cost, wrapped
from tests.motion.compiled import pose_free


def available() -> bool:
    """Whether OMPL can be imported."""
    try:
        import ompl.base  # noqa: F401
    except ImportError:
        return False
    return True


@njit(cache=True, error_model="numpy")
def _cheaper_way(task, a, b):
    """Cost (inf when neither way is clear), turn, signed distance, turn of the cheaper straight move between two poses."""
    (ax, ay, ah), (bx, by, bh) = a, b
    d = math.hypot(bx - ax, by - ay)
    best = (math.inf, 0.0, 0.0, 0.0)
    for way in (1.0, -1.0):
        toward = math.atan2(by - ay, bx - ax) + (0.0 if way > 0 else math.pi)
        first = free_turn(task.walls, task.body, ax, ay, ah, wrapped(toward - ah))
        if math.isnan(first):
            continue
        if not leg_free(task.walls, task.body, ax, ay, math.cos(toward), math.sin(toward), way * d):
            continue
        last = free_turn(task.walls, task.body, bx, by, toward, wrapped(bh - toward))
        if math.isnan(last):
            continue
        cost = (
            turn_cost(task.trip.handling, first) + leg_cost(task.trip.handling, d) + turn_cost(task.trip.handling, last)
        )
        if cost < best[0]:
            best = (cost, first, way * d, last)
    return best


def straight_move(
    task: Task, a: tuple[float, float, float], b: tuple[float, float, float]
) -> tuple[float, list[float]] | None:
    """Cost and (turn, signed distance, turn) of the cheaper clear straight move between two poses; None if neither is."""
    cost, first, distance, last = _cheaper_way(task, a, b)
    return None if cost == math.inf else (cost, [first, distance, last])


def rrt_star(task: Task, seconds: float, seed: int) -> list[Action] | None:
    """Actions of the best course that RRT* finds in the time; None when it finds none."""
    from ompl import base as ob
    from ompl import geometric as og
    from ompl import util as ou

    ou.setLogLevel(ou.LogLevel.LOG_NONE)
    ou.RNG.setSeed(seed)
    space = ob.SE2StateSpace()
    bounds = ob.RealVectorBounds(2)
    for axis in range(2):
        bounds.setLow(axis, float(task.walls.edges[axis]))
        bounds.setHigh(axis, float(task.walls.edges[axis + 2]))
    space.setBounds(bounds)
    info = ob.SpaceInformation(space)

    def pose(state) -> tuple[float, float, float]:
        return state.getX(), state.getY(), state.getYaw()

    class Moves(ob.MotionValidator):
        def checkMotion(self, a, b, *rest) -> bool:
            return straight_move(task, pose(a), pose(b)) is not None

    class Seconds(ob.OptimizationObjective):
        def stateCost(self, state):
            return ob.Cost(0.0)

        def motionCost(self, a, b):
            move = straight_move(task, pose(a), pose(b))
            return ob.Cost(move[0] if move else 1e6)

    info.setStateValidityChecker(lambda state: bool(pose_free(task.walls, task.body, *pose(state))))
    moves = Moves(info)
    info.setMotionValidator(moves)
    info.setup()
    problem = ob.ProblemDefinition(info)
    start, goal = space.allocState(), space.allocState()
    for state, (x, y, h) in ((start, task.trip.start), (goal, task.trip.goal)):
        state.setX(x)
        state.setY(y)
        state.setYaw(wrapped(h))
    problem.setStartAndGoalStates(start, goal, 0.001)
    objective = Seconds(info)
    problem.setOptimizationObjective(objective)
    planner = og.RRTstar(info)
    planner.setRange(1500.0)
    planner.setProblemDefinition(problem)
    planner.setup()
    planner.solve(seconds)
    if not problem.hasExactSolution():
        return None
    states = [pose(s) for s in problem.getSolutionPath().getStates()]
    actions: list[Action] = []
    heading = math.degrees(task.trip.start.h)
    for a, b in itertools.pairwise(states):
        move = straight_move(task, a, b)
        if move is None:
            return None
        first, distance, last = move[1]
        for kind, value in (("turn", first), ("drive", distance), ("turn", last)):
            if kind == "drive":
                actions.append(Drive(value))
            elif abs(value) > 1e-9:
                heading += math.degrees(value)
                actions.append(Turn(math.degrees(value), heading))
    return actions
