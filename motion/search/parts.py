"""The two halves of a course as actions: out to the end of the push, and home. Exact, or rounded to whole steps."""

from __future__ import annotations

import math
from collections import Counter
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass, replace

import numpy as np

from motion.course.actions import Action, Drive, Push, Tool, Turn
from motion.course.times import course_seconds
from motion.ground.clearance import Stage, action_room, inside_base, pose_after
from motion.ground.kernels import leg_free
from motion.scene.records import Pose, RobotSpec, Scene
from motion.search.frames import TableFrame, frames_of
from motion.search.kernels.task import Task
from motion.search.nodes import GRID_MM
from motion.search.paths import MAX_LEGS, Explored, Way, distinct, find_paths, way_actions
from motion.search.phases import Caution, Phases, push_end
from motion.search.rounding import Rounded, rounded_into_base, rounded_to_goal

#: How many exact ways of a phase are turned into parts, and how many rounded ones each gives.
WAYS, ROUNDINGS = 6, 2
#: Grid and most legs of a deep search.
DEEP_GRID_MM, DEEP_LEGS = 70.0, 12
#: Ways home serve ends of the push that are no farther from where they begin than this, mm.
NEARBY_MM = 60.0
#: Where these cannot be put on whole steps so many more searches are made from other ends nearby.
AGAIN = 3
#: Turns of whole steps of this are tried beside those of the robot's own finer steps, degrees.
COARSE_DEG = 5.0
#: Each frame is searched with this part of the effort.
EACH_FRAME = 0.6


@dataclass(frozen=True)
class Part:
    """One half of a course."""

    start: Pose
    actions: tuple[Action, ...]
    end: Pose
    seconds: float
    way: Way

    @property
    def moves(self) -> int:
        """How many turns and legs it has."""
        return sum(not isinstance(action, Tool) for action in self.actions)

    def begun_at(self, start: Pose) -> Part:
        """The same from the same pose whose heading is counted from another full circle."""
        on = 360.0 * round((start.heading_deg - self.start.heading_deg) / 360)
        if on == 0.0:
            return self
        actions = tuple(
            replace(action, to_deg=action.to_deg + on) if isinstance(action, Turn) else action
            for action in self.actions
        )
        return replace(self, start=start, actions=actions, end=replace(self.end, heading_deg=self.end.heading_deg + on))

    def by_seconds(self) -> tuple[float, ...]:
        """What it costs when time counts."""
        return (self.seconds,)

    def by_moves(self) -> tuple[float, ...]:
        """What it costs when turns and legs count, then time."""
        return (float(self.moves), self.seconds)


class PartFinder:
    """Finds parts for a scene; ``tick`` is called often and may raise to stop."""

    def __init__(
        self, scene: Scene, *, exact: bool, seed: int, tick: Callable[[], None], stop: np.ndarray | None = None
    ) -> None:
        self.scene, self.exact, self.seed, self.tick = scene, exact, seed, tick
        self.phases = Phases(scene, stop)
        self.deep = False
        #: How far past the nominal end exact numbers push, mm.
        self.push_over_mm = 0.0
        #: The amounts of extra room (mm) at which each half was found in whole steps: others need not be tried again.
        self.room_first: dict[tuple[str, str], tuple[float, ...]] = {}
        #: The least cost of the ways that were found since it was last set.
        self.cheapest_way = math.inf
        self._homeward: dict[tuple[Caution, bool, bool], tuple[Pose, list[Way]]] = {}
        #: Whether any way was seen since it was last set, whether or not it could be put on whole steps.
        self.saw_way = False
        #: How often was searched again since ways from nearby could not be put on whole steps.
        self._again: Counter[Caution] = Counter()
        #: What searches found out that depends on what stands where and not on what a search pays for.
        self._explored: dict[tuple, Explored] = {}
        #: The last of these among the same walls, which live as long as the phases.
        self._among: dict[tuple, Explored] = {}
        #: Ways that were found, which need no searching again.
        self._ways_found: dict[tuple, list[Way]] = {}
        self.works: dict[tuple, int] = {}  # how many simulated runs work, by all that this hangs on
        self.roundings = ROUNDINGS
        self.brief = self.coarse = False
        self.has_tool = scene.robot.working_footprint is not None

    @contextmanager
    def searching_deep(self) -> Iterator[None]:
        """While this holds, graphs are finer and courses may have more legs: for winding ways, and before saying no."""
        before, self.deep = self.deep, True
        try:
            yield
        finally:
            self.deep = before

    @contextmanager
    def keeping_roundings(self, roundings: int, *, brief: bool = False) -> Iterator[None]:
        """While this holds, each way out has so many roundings; briefly is a short attempt each, only to the robot's own steps."""
        before = self.roundings, self.brief
        self.roundings, self.brief = roundings, brief
        try:
            yield
        finally:
            self.roundings, self.brief = before

    @contextmanager
    def in_numbers(self, *, exact: bool, coarse: bool = False) -> Iterator[None]:
        """While this holds, parts come in exact numbers or in the robot's whole steps, or coarse ones, whatever was asked for."""
        asked = self.exact, self.coarse
        self.exact, self.coarse = exact, coarse
        try:
            yield
        finally:
            self.exact, self.coarse = asked

    @property
    def numbers(self) -> str:
        """In what numbers parts come now."""
        return "exact" if self.exact else "coarse" if self.coarse else "whole"

    @property
    def has_coarse(self) -> bool:
        """Whether turns of coarse steps are whole steps of the robot, and not the same."""
        times = COARSE_DEG / self.scene.robot.turn_step_deg
        return times >= 1.5 and abs(times - round(times)) <= 1e-9

    def outs(self, caution: Caution, ways: int = WAYS, effort: float = 1.0) -> list[Part]:
        """Parts from the start to the end of the push, cheapest first."""
        if self.scene.start is None:
            return self._open_outs(caution, ways, effort)
        parts: list[Part] = []
        for goal, approach in self._goals():
            task = self.phases.out_task(caution, self.scene.start, goal)
            for way in self._ways(task, caution, ways, effort):
                parts += self.parts_along(way, self.scene.start, goal, approach)
            if parts:
                break
        return sorted(parts, key=lambda part: part.seconds)

    def _grid(self) -> tuple[float, int]:
        """Spacing of the graph's grid (mm), and the most legs."""
        return (DEEP_GRID_MM, DEEP_LEGS) if self.deep else (GRID_MM, MAX_LEGS)

    def _ways(self, task, caution: Caution, most: int, effort: float) -> list[Way]:
        slim = self.phases.slim() if caution.extra_mm <= 40 else ()
        spacing, levels = self._grid()
        trip = task.trip
        where = (trip.start, trip.goal, trip.into_base, trip.backing, trip.handling.least_back, spacing)
        if (caution, where, effort) in self._ways_found:
            ways = self._ways_found[caution, where, effort][:most]
            self.saw_way |= bool(ways)
            return ways
        found: list[Way] = []
        room = (caution.extra_mm, caution.base_extra_mm)
        for frame in frames_of(task):
            shared = not caution.spread_s_per_mm
            explored = self._known_of(task, frame, room, where) if shared else None
            seen = find_paths(
                frame.task(task),
                [frame.body(body) for body in slim],
                seed=self.seed,
                effort=EACH_FRAME * effort,
                spacing=spacing,
                levels=levels,
                explored=explored,
                tick=lambda _: self.tick(),
            )
            self.tick()
            found += [frame.way_back(way) for way in seen]
        self.cheapest_way = min([self.cheapest_way, *(way.cost for way in found)])
        self.saw_way |= bool(found)
        ways = distinct(sorted(found, key=lambda way: way.cost), most)
        self._ways_found[caution, where, effort] = ways
        return ways

    def _known_of(self, task: Task, frame: TableFrame, room: tuple[float, float], where: tuple) -> Explored:
        """What is known of a phase in a frame; at first what was found out about the same walls from another pose."""
        if (frame, room, where) not in self._explored:
            among = (frame, room, id(task.walls), task.trip.into_base)
            new = Explored(nearby=self._among.get(among))
            self._explored[frame, room, where] = self._among[among] = new
        return self._explored[frame, room, where]

    def _goals(self) -> list[tuple[Pose, float]]:
        """Where the travelling body must get to, and how far the lowered body then drives on to the pre-contact pose."""
        goal = self.scene.target.precontact
        if not self.has_tool:
            return [(goal, 0.0)]
        h = math.radians(goal.heading_deg)
        step = self.scene.robot.distance_step_mm
        nears = [0.0] + [max(step, round(far / step) * step) for far in (80, 150, 250, 350)]
        return [
            (Pose(goal.x_mm - far * math.cos(h), goal.y_mm - far * math.sin(h), goal.heading_deg), far) for far in nears
        ]

    def parts_along(self, way: Way, start: Pose, goal: Pose, approach: float) -> list[Part]:
        """Parts along a way from a start to a goal, from which the lowered body drives on by ``approach`` and pushes.

        Rounded ones are clear; exact ones are as clear as their way is.
        """
        scene = self.scene
        if self.exact:
            exact = tuple(way_actions(way, start.heading_deg))
            rounded = [Rounded(exact, goal, scene.target.push_leg_mm + self.push_over_mm)]
        else:
            target = replace(scene.target, precontact=goal)
            task = self.phases.out_task(Caution(), start, goal)
            rounded = [
                item
                for robot in self._steps_tried()
                for item in rounded_to_goal(task, way, start, robot, target, self.roundings, brief=self.brief)
            ]
        parts = []
        for item in rounded:
            part = self._with_push(item, start, approach, way)
            if part is not None:
                parts.append(part)
        self.tick()
        return parts

    def _with_push(self, item: Rounded, start: Pose, approach: float, way: Way) -> Part | None:
        """The part with tool, approach and push added; None when one of these is not clear."""
        scene, ground = self.scene, self.phases.ground
        actions, pose = list(item.actions), item.end
        assert item.push_mm is not None
        if self.has_tool:
            lower = Tool("lower", scene.robot.tool_seconds)
            if action_room(ground, Stage("out", True), pose, lower)[0] < scene.margin_mm - 1e-6:
                return None
            actions.append(lower)
            if approach > 0:
                if action_room(ground, Stage("out", True), pose, Drive(approach))[0] < scene.margin_mm - 1e-6:
                    return None
                actions.append(Drive(approach))
                pose = push_end(scene, pose, approach)
        h = math.radians(pose.heading_deg)
        if not leg_free(
            ground.push,
            ground.working_wide,
            float(pose.x_mm),
            float(pose.y_mm),
            math.cos(h),
            math.sin(h),
            float(item.push_mm),
        ):
            return None
        actions.append(Push(item.push_mm))
        seconds = course_seconds(scene.robot, actions)[1]
        return Part(start, tuple(actions), push_end(scene, pose, item.push_mm), seconds, way)

    def _steps_tried(self) -> list[RobotSpec]:
        """The robot with its steps, and with coarser turns that are whole steps too: they reach further from a way."""
        robot = self.scene.robot
        coarser = replace(robot, turn_step_deg=COARSE_DEG)
        if self.coarse:
            return [coarser]
        return [robot] if self.brief or not self.has_coarse else [robot, coarser]

    def homes(self, caution: Caution, end_of_push: Pose, ways: int = WAYS, effort: float = 1.0) -> list[Part]:
        """Parts from the end of the push into the base, cheapest first.

        Where the ways from a pose nearby do not do, another search from here is worth its time only with the room that
        must be, on the usual grid: what a few millimetres of the pose decide is whether the body comes free at all.
        """
        parts: list[Part] = []
        near = None if self.exact else self._known_homeward(caution, end_of_push)
        if near is not None:  # ways from a pose nearby do as well
            parts = self._home_parts(caution, end_of_push, near)
            self.saw_way |= bool(near)
        if not parts and (near is None or self._worth_another(caution, near)):
            task = self.phases.home_task(caution, end_of_push)
            found = self._ways(task, caution, ways, effort)
            self._homeward.setdefault((caution, self.deep, self.coarse), (end_of_push, found))
            parts = self._home_parts(caution, end_of_push, found)
        return sorted(parts, key=lambda part: part.seconds)

    def _worth_another(self, caution: Caution, near: list[Way]) -> bool:
        """Whether to search once more where the ways from a pose nearby do not do; where there are some, a few times."""
        if self.deep or caution.extra_mm > 0:
            return False
        self._again[caution] += bool(near)
        return self._again[caution] <= AGAIN

    def _known_homeward(self, caution: Caution, end: Pose) -> list[Way] | None:
        """The ways that a search from a pose nearby found, None when there was no such search."""
        known = self._homeward.get((caution, self.deep, self.coarse))
        if known is None or math.dist((known[0].x_mm, known[0].y_mm), (end.x_mm, end.y_mm)) > NEARBY_MM:
            return None
        lean = math.radians(math.remainder(end.heading_deg - known[0].heading_deg, 360))
        return [_leaning(way, lean) for way in known[1]]

    def _home_parts(self, caution: Caution, end_of_push: Pose, ways: list[Way]) -> list[Part]:
        parts: list[Part] = []
        for way in ways:
            if self.exact:
                lists = [tuple(way_actions(way, end_of_push.heading_deg))]
            else:
                lists = self._home_roundings(caution, end_of_push, way)
            for found in lists:
                actions = self._with_tool_raised(found, end_of_push)
                if actions is None:
                    continue
                pose = end_of_push
                for action in actions:
                    pose = pose_after(pose, action)
                seconds = course_seconds(self.scene.robot, actions)[1]
                parts.append(Part(end_of_push, actions, pose, seconds, way))
            self.tick()
        return parts

    def _home_roundings(self, caution: Caution, end: Pose, way: Way) -> list[tuple[Action, ...]]:
        plain = self.phases.home_task(Caution(), end)
        inner = plain._replace(homing=self.phases.home_task(replace(caution, extra_mm=0.0), end).homing)
        found: list[Rounded] = []
        for robot in self._steps_tried():
            rounded = rounded_into_base(inner, way, end, robot, ROUNDINGS)
            if not rounded and caution.base_extra_mm > 0:
                rounded = rounded_into_base(plain, way, end, robot, ROUNDINGS)
            found += rounded
        return [item.actions for item in found]

    def _with_tool_raised(self, actions: tuple[Action, ...], start: Pose) -> tuple[Action, ...] | None:
        if not self.has_tool:
            return actions
        raised = Tool("raise", self.scene.robot.tool_seconds)
        pose = pose_after(start, actions[0])
        if action_room(self.phases.ground, Stage("home", True), pose, raised)[0] < self.scene.margin_mm - 1e-6:
            return None
        return (actions[0], raised, *actions[1:])

    def _open_outs(self, caution: Caution, ways: int, effort: float) -> list[Part]:
        """Parts from a start of the planner's choice: the mirror in time of a way from the goal into the base."""
        deeper = replace(caution, base_extra_mm=max(caution.base_extra_mm, 0 if self.exact else 12.0))
        parts: list[Part] = []
        for goal, approach in self._goals():
            task = self.phases.open_start_task(deeper, goal)
            for way in self._ways(task, caution, ways, effort):
                start, back = mirrored(way, goal)
                if not self.exact:
                    start = self._settable(start, goal)
                if self._inside(start):
                    parts += self.parts_along(back, start, goal, approach)
            if parts:
                break
        return sorted(parts, key=lambda part: part.seconds)

    def _settable(self, start: Pose, goal: Pose) -> Pose:
        """The start on whole steps: a heading from which the goal's is whole turn steps away, whole distances."""
        step, mm = self._steps_tried()[0].turn_step_deg, max(1.0, min(self.scene.robot.distance_step_mm, 10.0))
        heading = goal.heading_deg + round((start.heading_deg - goal.heading_deg) / step) * step
        return Pose(round(start.x_mm / mm) * mm, round(start.y_mm / mm) * mm, math.remainder(heading, 360))

    def _inside(self, pose: Pose) -> bool:
        h = math.radians(pose.heading_deg)
        return bool(inside_base(self.phases.ground.homing(), float(pose.x_mm), float(pose.y_mm), h))


def _leaning(way: Way, lean: float) -> Way:
    """The way with its legs' headings as they are, from a first heading that leans so far to the left."""
    if len(way.distances) < 2 or lean == 0.0:
        return way
    return replace(way, turns=(way.turns[0], way.turns[1] - lean, *way.turns[2:]))


def mirrored(way: Way, goal: Pose) -> tuple[Pose, Way]:
    """A way from the goal into the base, run backwards in time: its start pose, and the way to the goal.

    Examples
    --------
    >>> home = Way(4.1, (0.0, 0.0), (-900.0,), ((150.0, 250.0),), (-1.0,), 0.0)  # backs up from the goal, 900 mm
    >>> start, out = mirrored(home, Pose(1050, 250, 0))
    >>> start, out.distances
    (Pose(x_mm=150.0, y_mm=250.0, heading_deg=0.0), (900.0,))
    """
    heading = goal.heading_deg + math.degrees(sum(way.turns))
    x, y = way.points[-1]
    points = (*way.points[-2::-1], (goal.x_mm, goal.y_mm))
    turns = tuple(-t for t in reversed(way.turns))
    distances = tuple(-d for d in reversed(way.distances))
    directions = tuple(-s for s in reversed(way.directions))
    return Pose(x, y, heading), Way(way.cost, turns, distances, points, directions, 0.0)
