"""Ways out made steadier: turning points moved by chance, legs parted and joined, as long as more simulated runs work.

A search pays for time and for what stands near, and that is not what makes runs fail: how far each leg lies across the
push, and how many turns set the heading anew, decides how widely runs spread at the target. So the best ways that go
genuinely different ways are taken on from there by what simulated runs say: several times each, with other luck, a little
at first, and the best of all these longer and longer.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass, replace
from itertools import pairwise

import numpy as np

from motion.course.actions import Drive
from motion.ground.clearance import action_room, poses_of, stages_of
from motion.scene.records import Pose
from motion.search.kernels.task import SAME_HEADING
from motion.search.parts import Part, PartFinder
from motion.search.paths import MAX_LEGS, Way
from motion.search.phases import has_many_corners
from motion.search.wholes import different_parts

#: How many different ways are taken on.
WAYS = 4
#: How many climbs begin, so many on each way since luck decides more than where one begins; how many of the best go on; and
#: in how many tries each time.
ROUNDS = ((3 * WAYS, 20), (4, 60), (2, 120))
#: The same among many corners.
ROUNDS_AMONG_MANY = ((WAYS, 20), (2, 60))
#: So many of the best are handed on whatever way they go, beside the best of each way.
BEST = 2
#: How many roundings of each try are simulated.
ROUNDINGS_TRIED = 2
#: How far a turning point is moved, mm: at first, at least, at most; and how that changes when a try was good and when not.
FAR_MM, LEAST_MM, MOST_MM, ON_GOOD, ON_BAD = 60.0, 8.0, 150.0, 1.6, 0.93
#: How often a leg is parted or two are joined, and the shortest leg to part, mm.
PARTED, JOINED, LONG_MM = 0.5, 0.1, 200.0
#: An action more must be worth this share of all runs.
AN_ACTION = 0.003
#: What does worse by more than this share in a few runs is not simulated in all.
HOPELESS = 0.02
#: Searches at once; each has its own random numbers, and their order changes no answer.
AT_ONCE = 2

Loss = Callable[[Part], float]


@dataclass(frozen=True)
class Judges:
    """What is lost by a way out: as a few runs say, and as all do; and the most actions that it may have."""

    by_few: Loss
    by_all: Loss
    most_actions: int | None = None


def steadied(finder: PartFinder, parts: Sequence[Part], judges: Judges) -> list[Part]:
    """Steadier ones of the first parts that go different ways, the steadiest first; nothing of those that no try made steadier.

    Parameters
    ----------
    parts
        Ways out, the steadiest first.
    """
    if judges.most_actions is not None:
        parts = [part for part in parts if len(part.actions) <= judges.most_actions]
    rounds = ROUNDS_AMONG_MANY if has_many_corners(finder.scene) else ROUNDS
    starts = [part for part in different_parts(parts, WAYS) for _ in range(rounds[0][0] // WAYS)]
    climbs = [_Climb(finder, judges, part, finder.seed + number) for number, part in enumerate(starts)]
    with finder.keeping_roundings(ROUNDINGS_TRIED, brief=True):
        for most, tries in rounds:
            climbs.sort(key=lambda climb: climb.value)
            _all(climbs[:most], tries)
    climbs.sort(key=lambda climb: climb.value)
    of_each_way = {id(climb.start): climb.best for climb in reversed(climbs)}
    found = {
        (part.start, part.actions): part for part in [*(climb.best for climb in climbs[:BEST]), *of_each_way.values()]
    }
    return [part for part in found.values() if part not in parts]


def _all(climbs: Sequence[_Climb], tries: int) -> None:
    with ThreadPoolExecutor(AT_ONCE) as pool:
        list(pool.map(lambda climb: climb.go_on(tries), climbs))


class _Climb:
    """One way out on its way to a steadier one."""

    def __init__(self, finder: PartFinder, judges: Judges, part: Part, seed: int) -> None:
        self.finder, self.judges, self.start, self.best = finder, judges, part, part
        self.value, self.by_few = self._priced(judges.by_all, part), self._priced(judges.by_few, part)
        self._chance, self._far = np.random.default_rng(seed), FAR_MM
        goal, (x, y) = finder.scene.target.precontact, part.way.points[-1]
        far = math.dist((x, y), (goal.x_mm, goal.y_mm))
        self._goal, self._approach = Pose(x, y, goal.heading_deg), far if far > 1e-6 else 0.0

    def go_on(self, tries: int) -> None:
        """Try so often, each time from the best so far."""
        for _ in range(tries):
            way = self._changed()
            better = way is not None and self._take(way)
            self._far = min(MOST_MM, self._far * ON_GOOD) if better else max(LEAST_MM, self._far * ON_BAD)

    def _take(self, way: Way) -> bool:
        """Whether the way, in numbers that can be set, is clear and steadier; then it is the best."""
        better = False
        for part in self.finder.parts_along(way, self.best.start, self._goal, self._approach):
            most = self.judges.most_actions
            if (most is not None and len(part.actions) > most) or _halts(part) or not self._clear(part):
                continue
            by_few = self._priced(self.judges.by_few, part)
            if by_few > self.by_few + HOPELESS:
                continue
            value = self._priced(self.judges.by_all, part)
            if value < self.value:
                self.best, self.value, self.by_few, better = part, value, by_few, True
        return better

    def _priced(self, loss: Loss, part: Part) -> float:
        return loss(part) + AN_ACTION * len(part.actions)

    def _clear(self, part: Part) -> bool:
        """Whether all before the push keeps the margin; rounding has looked at that, exact numbers come as they are."""
        if not self.finder.exact:
            return True
        scene, ground = self.finder.scene, self.finder.phases.ground
        steps = zip(stages_of(part.actions), poses_of(part.start, part.actions), part.actions[:-1], strict=False)
        return min(map(abs, part.way.distances)) >= scene.robot.min_leg_mm and all(
            action_room(ground, *step)[0] >= scene.margin_mm - 1e-6 for step in steps
        )

    def _changed(self) -> Way | None:
        """The best way with a leg parted, two joined or some turning points moved."""
        way, chance = self.best.way, self._chance
        points, directions = list(way.points), list(way.directions)
        what, legs = chance.random(), len(way.points)
        if what < PARTED:
            k = int(chance.integers(legs))
            begin = points[k - 1] if k else (self.best.start.x_mm, self.best.start.y_mm)
            if legs == MAX_LEGS or math.dist(begin, points[k]) < LONG_MM:
                return None
            share = float(chance.uniform(0.3, 0.7))
            middle = tuple(p + share * (q - p) for p, q in zip(begin, points[k], strict=True))
            points.insert(k, self._near(middle))
            directions.insert(k, directions[k])
        elif legs == 1:
            return None
        elif what < PARTED + JOINED:
            k = int(chance.integers(legs - 1))
            del points[k], directions[k]
        else:
            which = chance.random(legs - 1) < max(0.4, 1.5 / (legs - 1))
            which[chance.integers(legs - 1)] = True
            points[:-1] = [
                self._near(point) if moved else point for point, moved in zip(points[:-1], which, strict=True)
            ]
        return _through(way, self.best.start, points, directions)

    def _near(self, point: Sequence[float]) -> tuple[float, float]:
        x, y = self._chance.normal(point, self._far)
        return float(x), float(y)


def _halts(part: Part) -> bool:
    """Whether it stops within a straight leg, which is no way to drive."""
    return any(
        isinstance(a, Drive) and isinstance(b, Drive) and a.distance_mm * b.distance_mm > 0
        for a, b in pairwise(part.actions)
    )


def _through(way: Way, start: Pose, points: Sequence[tuple[float, float]], directions: Sequence[float]) -> Way | None:
    """The way from a start through other turning points, to the same last heading; None when two points are one.

    A leg is turned to the nearer way round, or, where the legs are the same in number, as it was before.

    >>> way = Way(5.0, (0.0, 0.0), (900.0,), ((1050.0, 250.0),), (1.0,), 0.0)
    >>> _through(way, Pose(150, 250, 0), [(600.0, 250.0), (1050.0, 250.0)], (1.0, 1.0)).distances
    (450.0, 450.0)
    """
    x, y, heading = start.x_mm, start.y_mm, math.radians(start.heading_deg)
    last = heading + sum(way.turns)
    before = way.turns if len(points) == len(way.points) else (0.0,) * (len(points) + 1)
    turns, distances = [], []
    for (to_x, to_y), direction, turned in zip(points, directions, before, strict=False):
        far = math.hypot(to_x - x, to_y - y)
        if far < 1e-6:
            return None
        toward = math.atan2(direction * (to_y - y), direction * (to_x - x))
        turns.append(turned + math.remainder(toward - heading - turned, math.tau))
        distances.append(direction * far)
        heading += turns[-1]
        x, y = to_x, to_y
    turns.append(before[-1] + math.remainder(last - heading - before[-1], math.tau))
    turns = [turn if abs(turn) >= SAME_HEADING else 0.0 for turn in turns]
    return replace(
        way, turns=tuple(turns), distances=tuple(distances), points=tuple(points), directions=tuple(directions)
    )
