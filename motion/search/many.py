"""Courses over several targets: a chain of phases, each searched for as a course for one target is.

Exact numbers: a phase begins where the push before it must end, so phases are independent and the best tour is made of
the best ones. Numbers on the robot's steps: a push ends a little elsewhere, so a tour is made phase by phase, a few
of the best kept each time.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import replace
from typing import Any

import numpy as np

from motion.chance.many import runs_of_many
from motion.chance.montecarlo import Normals, normals
from motion.chance.pace import within_limit
from motion.course.actions import Action, Tool
from motion.course.sentences import _
from motion.errors import MotionCode, NoCourseError
from motion.ground.errands import in_the_way, name_of, world_of
from motion.ground.named import with_article
from motion.scene.records import Pose, Scene
from motion.search.onward import OnwardFinder
from motion.search.orders import SLACK, Tour, cheapest_tours, possible_orders
from motion.search.parts import Part, PartFinder
from motion.search.phases import Caution
from motion.search.pool import THE_FEWEST_S
from motion.search.steadiest import CAUTIONS, SECOND_RUNS, SECONDS_PER_CHANCE
from motion.search.trade import needs_more_steps, of_few_steps
from motion.search.wholes import DIFFERENT_MM, first_homes, first_outs

Tell = Callable[[float, str], None]
#: What a turn or leg costs on top of its time when the fewest are wanted, s.
MOVE_PRICE_S = 8.0
#: Orders that are put on whole steps, unfinished tours kept at each phase, and the actions of the longest tour.
ORDERS, KEPT, LONGEST = 2, 2, 64
#: How many parts of each phase are tried on, and the runs that tours are first compared by.
TRIED, FIRST_RUNS = 2, 2_000
#: How many of the steadiest tours that differ before the way home are tried with every way home.
BROUGHT_HOME = 4


class ManyFinder:
    """Finds parts and tours of them for a scene with several targets; ``tick`` is called often and may raise to stop."""

    def __init__(
        self, scene: Scene, *, exact: bool, seed: int, tick: Callable[[], None], stop: np.ndarray | None = None
    ) -> None:
        self.scene, self.exact, self.seed, self.tick, self.stop = scene, exact, seed, tick, stop
        self.errors: list[NoCourseError] = []
        self.known: dict[tuple[Action, ...], Tour] = {}
        self._kept: dict[tuple, list[Part]] = {}

    def parts(
        self, caution: Caution, pushed: tuple[int, ...], target: int | None, begin: Pose | None, *, exact: bool
    ) -> list[Part]:
        """Parts of one phase, cheapest first: to the end of a target's push, or home; empty when there is none.

        ``pushed`` are the targets before it, in order; ``begin`` is where the last push ended.
        """
        key = (caution, frozenset(pushed), pushed[-1:], target, begin, exact)
        if key not in self._kept:
            try:
                self._kept[key] = self._found(caution, pushed, target, begin, exact=exact)
            except NoCourseError as error:
                self.errors.append(self._named(error, pushed, target))
                self._kept[key] = []
        return self._kept[key]

    def _found(
        self, caution: Caution, pushed: tuple[int, ...], target: int | None, begin: Pose | None, *, exact: bool
    ) -> list[Part]:
        how: dict[str, Any] = {"exact": exact, "seed": self.seed, "tick": self.tick, "stop": self.stop}
        if not pushed:
            assert target is not None
            return first_outs(PartFinder(world_of(self.scene, target, frozenset()), **how), caution)
        before = world_of(self.scene, pushed[-1], frozenset(pushed[:-1]))
        assert begin is not None
        if target is None:
            return first_homes(PartFinder(before, **how), caution, begin)
        world = world_of(self.scene, target, frozenset(pushed))
        return first_outs(OnwardFinder(before, world, begin, **how), caution)

    def _named(self, error: NoCourseError, pushed: tuple[int, ...], target: int | None) -> NoCourseError:
        """The error with which way it is that was not found."""
        why, to = error.message, "" if target is None else with_article(name_of(self.scene, target))
        last = with_article(name_of(self.scene, pushed[-1])) if pushed else ""
        if not last:
            words = (
                _("On the way to {target}: {why}", target=to, why=why) if to else _("On the way home: {why}", why=why)
            )
        elif to:
            words = _("On the way to {target} from {last}: {why}", target=to, last=last, why=why)
        else:
            words = _("On the way home from {last}: {why}", last=last, why=why)
        return NoCourseError(error.code, words, error.tightest)

    def orders(self, caution: Caution, price: Callable[[Part], float], slack: float) -> list[Tour]:
        """The cheapest tour of every order that may be nearly the best, in exact numbers."""

        def find(pushed: tuple[int, ...], target: int | None, begin: Pose | None) -> Part | None:
            found = self.parts(caution, pushed, target, begin, exact=True)
            return min(found, key=price, default=None)

        return cheapest_tours(self.scene, find, price, slack)

    def tours(self, order: tuple[int, ...], caution: Caution, price: Callable[[Part], float]) -> list[Tour]:
        """Tours in one order in the numbers that were asked for, cheapest first."""
        unfinished: list[tuple[Part, ...]] = [()]
        for k, target in enumerate((*order, None)):
            longer = []
            for parts in unfinished:
                found = self.parts(caution, order[:k], target, parts[-1].end if parts else None, exact=self.exact)
                longer += [(*parts, part) for part in sorted(found, key=price)[:TRIED]]
            longer.sort(key=lambda parts: sum(map(price, parts)))
            unfinished = longer[: KEPT if target is not None else None]
        made = [Tour(order, parts) for parts in unfinished]
        self.known |= {tour.actions: tour for tour in made}
        return made

    def none(self) -> NoCourseError:
        """Why there is no tour at all."""
        if not possible_orders(self.scene):
            return self._pushed_together()
        if self.errors:
            return self.errors[0]
        message = _("No clear course was found in any order that pushes every target; make more room between them.")
        return NoCourseError(MotionCode.NO_COURSE, message)

    def _pushed_together(self) -> NoCourseError:
        for k, target in enumerate(range(len(self.scene.targets))):
            other = in_the_way(self.scene, target, range(k))
            if other is not None:
                names = with_article(name_of(self.scene, target)), with_article(name_of(self.scene, other))
                message = _(
                    "Pushed as it should be, {thing} runs into {other}; move one of them, or change the order.",
                    thing=names[0],
                    other=names[1],
                )
                return NoCourseError(MotionCode.BLOCKED, message)
        return NoCourseError(MotionCode.BLOCKED, _("In any order one target is pushed into another; move one of them."))


def tours_for(
    finder: ManyFinder, aim: str, alternatives: int, most_actions: int | None, tell: Tell
) -> tuple[list[Tour], list[Tour]]:
    """The best tours for an aim, genuinely different ones when several are wanted, and all that are known by it.

    Raises
    ------
    NoCourseError
        When there is none, or none of so few actions.
    """
    if aim == "steadiest":
        found = _steadiest(finder, most_actions, tell)
    else:
        found = _by_price(finder, aim, most_actions, tell)
    allowed = of_few_steps(found, most_actions)
    if most_actions is not None and not allowed:
        raise needs_more_steps(found, most_actions)
    if aim == "steadiest":
        tell(0.85, _("Simulating them"))
        second = normals(LONGEST, SECOND_RUNS, finder.seed + 12)
        allowed = _ranked(finder, allowed[: 4 + 2 * alternatives], second)
    return _different(allowed, alternatives), found


def _by_price(finder: ManyFinder, aim: str, most_actions: int | None, tell: Tell) -> list[Tour]:
    """All tours that are known, the quickest or simplest first."""
    robot = finder.scene.robot
    _look(finder, Caution(), lambda part: part.seconds)
    tell(0.5, _("Putting the ways together"))
    _look(finder, Caution(move_price_s=MOVE_PRICE_S), lambda part: part.seconds + MOVE_PRICE_S * _moves(part))
    if most_actions is not None and not of_few_steps(finder.known.values(), most_actions):
        _look(finder, Caution(move_price_s=THE_FEWEST_S), lambda part: part.seconds + THE_FEWEST_S * _moves(part))
    found = list(finder.known.values())  # those found for another aim too: none is beaten at its own
    if not found:
        raise finder.none()
    if aim == "simplest":
        found.sort(key=lambda tour: (tour.moves, tour.seconds(robot)))
    else:
        found.sort(key=lambda tour: tour.seconds(robot))
    return found


def _moves(part: Part) -> int:
    return sum(not isinstance(action, Tool) for action in part.actions)


def _look(finder: ManyFinder, caution: Caution, price: Callable[[Part], float]) -> None:
    """Find tours in the numbers asked for, in the orders that are cheapest in exact ones."""
    for order in _orders(finder, caution, price):
        finder.tours(order, caution, price)


def _orders(finder: ManyFinder, caution: Caution, price: Callable[[Part], float]) -> list[tuple[int, ...]]:
    """The orders to look at, best first: one that is given needs no comparing."""
    orders = possible_orders(finder.scene)
    if len(orders) > 1:
        orders = [tour.order for tour in finder.orders(caution, price, SLACK)]
    return orders[:ORDERS]


def _steadiest(finder: ManyFinder, most_actions: int | None, tell: Tell) -> list[Tour]:
    """All tours that are known, the ones that work most often in simulated runs first; with more and more caution."""

    def price(part: Part) -> float:
        return part.seconds

    orders = _orders(finder, Caution(), price)
    tell(0.2, _("Looking for steady ways"))
    # those that pay for each action too whatever the limit: fewer legs are often steadier, and no limit may find more
    cautions = (
        Caution(),
        *CAUTIONS,
        Caution(move_price_s=MOVE_PRICE_S),
        replace(CAUTIONS[1], move_price_s=MOVE_PRICE_S),
    )
    for number, caution in enumerate(cautions):
        for order in orders:
            finder.tours(order, caution, price)
        tell(0.2 + 0.5 * (number + 1) / len(cautions), _("Looking for steady ways"))
    found = list(finder.known.values())
    if not found:
        raise finder.none()
    first = normals(LONGEST, FIRST_RUNS, finder.seed + 11)
    found = _ranked(finder, found, first)
    _other_homes(finder, _begun_otherwise(found), cautions)
    if most_actions is not None:
        _other_homes(finder, _begun_otherwise(of_few_steps(found, most_actions)), cautions)
    return _ranked(finder, list(finder.known.values()), first)


def _begun_otherwise(tours: Sequence[Tour]) -> list[Tour]:
    """The first tours that differ before the way home: a poor way home may hide how steady what goes before it is."""
    begun: dict[tuple[Part, ...], Tour] = {}
    for tour in tours:
        begun.setdefault(tour.parts[:-1], tour)
    return list(begun.values())[:BROUGHT_HOME]


def _other_homes(finder: ManyFinder, tours: Sequence[Tour], cautions: Sequence[Caution]) -> None:
    """Make the tours with every other way home known."""
    found = [
        Tour(tour.order, (*tour.parts[:-1], part))
        for tour in tours
        for caution in cautions
        for part in finder.parts(caution, tour.order, None, tour.parts[-2].end, exact=finder.exact)[:TRIED]
    ]
    finder.known |= {tour.actions: tour for tour in found}


def _ranked(finder: ManyFinder, tours: Sequence[Tour], z: Normals) -> list[Tour]:
    """The tours by how many of the runs of a noise matrix fail, and a little for time."""
    once = list({tour.actions: tour for tour in tours}.values())
    return sorted(once, key=lambda tour: _loss(finder, tour, z))


def _loss(finder: ManyFinder, tour: Tour, z: Normals) -> float:
    finder.tick()
    scene, seconds = finder.scene, tour.seconds(finder.scene.robot)
    if len(tour.actions) > LONGEST:
        return 2.0
    works = runs_of_many(scene, tour.start, tour.actions, z, stop=finder.stop)[0].mean()
    finder.tick()
    return 1.0 - within_limit(seconds, scene.time_limit_s, scene.pace) * float(works) + SECONDS_PER_CHANCE * seconds


def _different(tours: Sequence[Tour], most: int) -> list[Tour]:
    """The first tours that go genuinely different ways or in another order."""
    kept: list[Tour] = []
    for tour in tours:
        if all(_differ(tour, other) for other in kept):
            kept.append(tour)
            if len(kept) == most:
                break
    return kept


def _differ(a: Tour, b: Tour) -> bool:
    if a.order != b.order:
        return True
    return any(
        p.way.directions != q.way.directions
        or any(math.dist(s, t) > DIFFERENT_MM for s, t in zip(p.way.points, q.way.points, strict=True))
        for p, q in zip(a.parts, b.parts, strict=True)
    )
