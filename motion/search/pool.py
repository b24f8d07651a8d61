"""All that a plan knows: courses found for every aim, from which each aim takes its own, so that none is beaten at it.

Every course comes in with those that push a little less or more within the middle half of the window, and without the
legs and turns that it can do without. Fastest and simplest are not blind to chance: of courses that take nearly the
least time (:data:`HARDLY`) the one that works most often in simulated runs is taken, if that is not by luck.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterable, Sequence
from dataclasses import astuple, replace

from motion.chance.landing import miss
from motion.chance.montecarlo import clean_runs, normals
from motion.course.actions import Drive, Push
from motion.errors import NoCourseError
from motion.ground.clearance import leg_free
from motion.scene.records import Pose, Scene
from motion.search.parts import Part, PartFinder
from motion.search.phases import Caution, has_many_corners, push_end, unit
from motion.search.tidy import Tidier
from motion.search.trade import needs_more_steps, of_few_steps
from motion.search.wholes import ROUNDING_EXTRA_MM, Whole, different_parts, first_homes, first_outs, no_whole

#: Courses this much slower than the quickest, as a share of its time, count as equally quick.
HARDLY = 0.005
#: One of them is steadier than the quickest when it works in more runs by so many standard deviations of what luck does,
BEYOND_LUCK = 2.0
#: and, where it takes longer by more than this share, when a quarter of all runs more work: a difference that everybody sees,
#: and that comes out the same on a scene drawn otherwise.
SCARCELY, MANY_MORE = 0.002, 0.25
#: How many of those are simulated, in how many runs, and how many actions the longest may have.
SIMULATED, RUNS, LONGEST = 16, 2_000, 40
#: How many of the cheapest courses are made tidy, and how many different ways out are brought home.
TIDIED, OUTS = 6, 2
#: How many more ends of pushes, of the cheapest ways out, are brought home: a step aside may make the way home free.
ENDS = 4
#: What an action costs (s) on top of its time while a search looks for a course of few, and for the very fewest.
A_STEP_LESS_S, THE_FEWEST_S = 2.0, 60.0

#: So many turns and legs has a course that winds.
WINDING = 12

Price = Callable[[Whole], tuple[float, ...]]


def middle_half(scene: Scene) -> tuple[float, float]:
    """How far past its nominal end (mm) a push may end: in the middle half of the window.

    >>> from motion.scene.example import example_scene
    >>> middle_half(example_scene())
    (-15.0, 15.0)
    """
    window = scene.target.window
    middle, quarter = (window.long_mm - window.short_mm) / 2, (window.long_mm + window.short_mm) / 4
    return middle - quarter, middle + quarter


def exact_push_over(scene: Scene) -> float:
    """How far past its nominal end (mm) a push in exact numbers ends: there, or as near as the middle half lets it.

    >>> from motion.scene.example import example_scene
    >>> exact_push_over(example_scene())
    0.0
    """
    least, most = middle_half(scene)
    return min(max(0.0, least), most)


class Pool:
    """Courses that were found for a scene; ``most_actions`` that those to choose from may have, None for any number."""

    def __init__(self, finder: PartFinder, most_actions: int | None = None) -> None:
        self.finder, self.most_actions = finder, most_actions
        self.known: dict[tuple, Whole] = {}
        self.tidier = Tidier(finder)
        self._homes: dict[tuple[Caution, Pose, bool, str], list[Part]] = {}
        self._saw_home = False
        finder.push_over_mm = exact_push_over(finder.scene)

    def add(self, wholes: Iterable[Whole]) -> None:
        """Take courses in."""
        for whole in wholes:
            self.known.setdefault((whole.out.start, whole.actions), whole)

    def allowed(self) -> list[Whole]:
        """The courses to choose from.

        Raises
        ------
        NoCourseError
            ``needs_more_steps`` when courses are known, but none of so few actions.
        """
        allowed = of_few_steps(self.known.values(), self.most_actions)
        if self.most_actions is not None and not allowed:
            raise needs_more_steps(self.known.values(), self.most_actions)
        return allowed

    def look(self, caution: Caution, price: Callable[[Part], tuple[float, ...]], alternatives: int = 1) -> None:
        """Search, and take in what is found.

        Raises
        ------
        NoCourseError
            When nothing is found, and nothing was known before.
        """
        try:
            outs = sorted(first_outs(self.finder, caution), key=price)
        except NoCourseError:
            if self.known:
                return
            raise
        found: list[Whole] = []
        must, may = self._chosen(outs, alternatives)
        for number, out in enumerate([*must, *may]):
            if number >= len(must) and (found or (self.known and not self.finder.coarse)):
                break
            homes = self._homes_from(caution, out.end)
            found += [Whole(each, home) for each in outs if each.end == out.end for home in homes]
        if not found and not self.known:
            raise no_whole(self.finder, outs, saw_way=self._saw_home)
        self.add(found)

    def _homes_from(self, caution: Caution, end: Pose) -> list[Part]:
        """Parts home from a pose; those from the very same pose, come to by turning once more round, are known."""
        around = math.remainder(end.heading_deg, 360)
        place = Pose(round(end.x_mm, 6), round(end.y_mm, 6), round(around, 9))
        key = (caution, place, self.finder.deep, self.finder.numbers)
        if key not in self._homes:
            self._homes[key] = first_homes(self.finder, caution, end)
            self._saw_home |= self.finder.saw_way
        return [part.begun_at(end) for part in self._homes[key]]

    def look_in_coarse_steps(self, caution: Caution, price: Callable[[Part], tuple[float, ...]]) -> None:
        """Take in what a robot that turns in coarse steps would be told, where those are whole steps of this one.

        A way home that coarse steps have may begin where finer ones do not look. Not among many corners, where it takes
        longer than all else.
        """
        if self.finder.has_coarse and not has_many_corners(self.finder.scene):
            with self.finder.in_numbers(exact=False, coarse=True):
                self.look(caution, price)

    def look_deep(self, caution: Caution, price: Callable[[Part], tuple[float, ...]]) -> None:
        """Search once more on the finest grid where the quickest course winds: it may cut a corner that others do not.

        Not among many corners, where that takes longer than all else.
        """
        quickest = min(self.known.values(), key=lambda whole: whole.seconds(self.finder.scene))
        if quickest.moves >= WINDING and not has_many_corners(self.finder.scene):
            with self.finder.searching_deep():
                self.look(caution, price)
                if self.finder.exact:
                    self.look_in_whole_steps(caution, price)

    def look_for_few_steps(self) -> None:
        """Search on where only so many actions are allowed: a little for fewer, and for the very fewest if need be."""
        if self.most_actions is None:
            return
        self.look(Caution(move_price_s=A_STEP_LESS_S), Part.by_seconds)
        if not of_few_steps(self.known.values(), self.most_actions):
            self.look(Caution(move_price_s=THE_FEWEST_S), Part.by_moves)
        self.add(
            self.tidier.tidied(whole) for whole in sorted(self.known.values(), key=lambda whole: whole.moves)[:TIDIED]
        )

    def look_in_whole_steps(self, caution: Caution, price: Callable[[Part], tuple[float, ...]]) -> None:
        """Take in courses in whole steps beside exact ones: they use the window to the side, which exact ones do not."""
        finder = self.finder
        cautions = [replace(caution, extra_mm=extra) for extra in ROUNDING_EXTRA_MM[0]]
        with finder.in_numbers(exact=False):
            outs = sorted((part for each in cautions for part in finder.outs(each, effort=0.5)), key=price)
            for out in self._chosen(outs, 1)[0]:
                homes = [part for each in cautions for part in finder.homes(each, out.end, effort=0.5)]
                self.add(Whole(each, home) for each in outs if each.end == out.end for home in homes)

    def _chosen(self, outs: Sequence[Part], alternatives: int) -> tuple[list[Part], list[Part]]:
        """Of ways out, the best first: those to bring home in any case, and those only if none of these comes home."""
        chosen = different_parts(outs, max(alternatives, OUTS))
        ends: dict[Pose, Part] = {}
        for out in outs:
            ends.setdefault(out.end, out)
        chosen += [out for out in ends.values() if out not in chosen][:ENDS]
        return chosen, [out for out in outs if out not in chosen]

    def best(self, price: Price) -> list[Whole]:
        """All courses by a price whose last number is seconds, the best one first.

        It has the least of the numbers before the last, and of those that take hardly longer than the least time it is
        the one that works most often; the quickest when none works more often than luck explains.
        """
        ranked = sorted(self.allowed(), key=price)
        self.add(self.tidier.tidied(whole) for whole in ranked[:TIDIED])
        ranked = sorted(self.allowed(), key=price)
        least = price(ranked[0])
        near = _each_once(whole for whole in ranked if _hardly_more(price(whole), least))[:SIMULATED]
        near += [other for whole in near[:3] for other in self.other_pushes(whole)]
        least = min(map(price, near))
        near = [whole for whole in near if _hardly_more(price(whole), least)]
        works = {(whole.start, whole.actions): self._works(whole) for whole in near}
        quickest = min(near, key=lambda whole: (price(whole), -works[whole.start, whole.actions]))
        often = works[quickest.start, quickest.actions]

        def steadier(whole: Whole) -> bool:
            here = works[whole.start, whole.actions]
            by_luck = BEYOND_LUCK * math.sqrt(2 * here * (1 - here / RUNS))
            enough = by_luck if _hardly_more(price(whole), least, SCARCELY) else max(by_luck, MANY_MORE * RUNS)
            return here - often > enough

        best = max(
            filter(steadier, near),
            key=lambda whole: (works[whole.start, whole.actions], -price(whole)[-1]),
            default=quickest,
        )
        return [best, *(whole for whole in ranked if whole is not best)]

    def _works(self, whole: Whole) -> int:
        """In how many simulated runs a course works."""
        self.finder.tick()
        if len(whole.actions) > LONGEST:
            return 0
        z = normals(LONGEST, RUNS, self.finder.seed + 13)
        works = clean_runs(self.finder.scene, whole.out.start, whole.actions, z, stop=self.finder.phases.stop)
        self.finder.tick()
        return works

    def other_pushes(self, whole: Whole) -> list[Whole]:
        """The same course with a longer or shorter push, and as much more or less backing off."""
        scene, least, most = self.finder.scene, *middle_half(self.finder.scene)
        over = miss(scene, whole.out.end)[0]
        if self.finder.exact:
            changes = [at - over for at in (least, (3 * least + most) / 4, (least + most) / 2, (least + 3 * most) / 4)]
        else:
            step = scene.robot.distance_step_mm
            changes = [step * n for n in (-4, -3, -2, -1, 1, 2, 3, 4) if least <= over + step * n <= most]
        made = [self._pushed(whole, change) for change in changes if abs(change) > 1e-6]
        return [other for other in made if other is not None]

    def _pushed(self, whole: Whole, change: float) -> Whole | None:
        """The course with its push changed by so much; None when that is not clear, or too little is backed off."""
        scene, ground = self.finder.scene, self.finder.phases.ground
        push, off = whole.out.actions[-1], whole.home.actions[0]
        assert isinstance(push, Push) and isinstance(off, Drive)
        far, back = round(push.distance_mm + change, 9), round(off.distance_mm - change, 9)
        if back > -scene.robot.min_back_off_mm + 1e-9 or back >= -scene.robot.min_leg_mm + 1e-9 or far <= 0:
            return None
        before = push_end(scene, whole.out.end, -push.distance_mm)
        if not leg_free(ground.push, ground.working_wide, *unit(before), float(far)):
            return None
        end = push_end(scene, before, far)
        out = replace(whole.out, actions=(*whole.out.actions[:-1], Push(far)), end=end)
        return Whole(out, replace(whole.home, start=end, actions=(Drive(back), *whole.home.actions[1:])))


def _each_once(wholes: Iterable[Whole]) -> list[Whole]:
    """In their order, without those that an earlier one is to a thousandth: two frames may find one course twice."""
    seen: dict[tuple[object, ...], Whole] = {}
    for whole in wholes:
        numbers = (number for part in (whole.start, *whole.actions) for number in astuple(part))
        seen.setdefault(tuple(round(n, 3) if isinstance(n, float) else n for n in numbers), whole)
    return list(seen.values())


def _hardly_more(price: tuple[float, ...], least: tuple[float, ...], share: float = HARDLY) -> bool:
    """Whether a price has no more of anything but time, and hardly more of that."""
    return price[:-1] == least[:-1] and price[-1] <= least[-1] * (1 + share)
