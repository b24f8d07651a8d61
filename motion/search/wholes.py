"""Whole courses from their two halves, and which of them are genuinely different."""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace

from motion.course.actions import Action, Tool
from motion.course.sentences import _, numeral
from motion.course.times import course_seconds
from motion.errors import MotionCode, NoCourseError
from motion.scene.records import Pose, Scene
from motion.search.parts import Part, PartFinder
from motion.search.phases import Caution
from motion.search.proof import explain_no_course, surely_none
from motion.units import in_digits

#: More room than the margin while planning numbers that will be rounded, mm: groups tried in turn until one fits.
ROUNDING_EXTRA_MM = ((5.0, 0.0), (1.0, 14.0), (28.0,))
#: When only ways so much dearer than the cheapest can be put on whole steps, more room is tried.
ROUNDED_DEARER = 1.03
#: Alternatives must differ by this much at some turning point, mm, and cost at most this much more.
DIFFERENT_MM, DEARER = 140.0, 1.6


@dataclass(frozen=True)
class Whole:
    """A course that is found but not yet checked and reported."""

    out: Part
    home: Part

    @property
    def start(self) -> Pose:
        """Where it begins."""
        return self.out.start

    @property
    def actions(self) -> tuple[Action, ...]:
        """All actions in order."""
        return (*self.out.actions, *self.home.actions)

    def seconds(self, scene: Scene) -> float:
        """How long it takes."""
        return course_seconds(scene.robot, self.actions)[0]

    @property
    def moves(self) -> int:
        """How many turns and legs it has."""
        return sum(not isinstance(action, Tool) for action in self.actions)


def first_outs(finder: PartFinder, caution: Caution) -> list[Part]:
    """Parts out, cheapest first, at the first amounts of extra room that give any.

    Raises
    ------
    NoCourseError
        When none does.
    """
    finder.cheapest_way, finder.saw_way = math.inf, False
    outs: list[Part] = []
    for extras in _extras(finder, "out"):
        for extra in extras:
            outs += finder.outs(replace(caution, extra_mm=extra), effort=_effort(finder))
        if outs:
            finder.room_first.setdefault(("out", finder.numbers), extras)
            if _near_enough(finder, outs):
                break
        elif surely_none(finder.scene, finder.phases, "out"):
            raise explain_no_course(finder.scene, finder.phases, "out", finder.tick)
        elif not finder.saw_way:
            break  # where there is no way, more room makes none
    if outs:
        return sorted(outs, key=lambda part: part.seconds)
    with finder.searching_deep():
        outs = finder.outs(replace(caution, extra_mm=0.0, spread_s_per_mm=0.0))
    if outs:
        return outs
    raise no_whole(finder, saw_way=finder.saw_way)


def first_homes(finder: PartFinder, caution: Caution, end: Pose) -> list[Part]:
    """Parts home, cheapest first, at the first amounts of extra room that give any; empty when none does."""
    finder.cheapest_way, finder.saw_way = math.inf, False
    homes: list[Part] = []
    for extras in _extras(finder, "home"):
        for extra in extras:
            homes += finder.homes(replace(caution, extra_mm=extra), end, effort=_effort(finder))
        if homes:
            finder.room_first.setdefault(("home", finder.numbers), extras)
            if _near_enough(finder, homes):
                break
        elif surely_none(finder.scene, finder.phases, "home"):
            return []
        elif not finder.saw_way:
            break
    if homes:
        return sorted(homes, key=lambda part: part.seconds)
    with finder.searching_deep():
        return finder.homes(replace(caution, extra_mm=0.0), end)


def no_whole(finder: PartFinder, outs: Sequence[Part] = (), *, saw_way: bool = True) -> NoCourseError:
    """The error to raise when no half out was found, or none home from those that were found.

    Says that the steps are too coarse when there is a whole course in exact numbers; else what is in the way. That is
    not looked for when the search, down to its finest grid, ``saw_way`` none.
    """
    scene, phases = finder.scene, finder.phases
    half = "home" if outs else "out"
    if finder.exact or not saw_way or surely_none(scene, phases, half):
        return explain_no_course(scene, phases, half, finder.tick)
    with finder.in_numbers(exact=True):
        exact_outs = _first_found(lambda: finder.outs(Caution()), finder)
        if exact_outs and _first_found(lambda: finder.homes(Caution(), exact_outs[0].end), finder):
            robot = scene.robot
            message = _(
                "There is a way, but not in steps of {length} and {turn}°. Set smaller steps, or plan with exact numbers.",
                length=numeral(_length(robot.distance_step_mm)),
                turn=numeral(in_digits(robot.turn_step_deg, 3)),
            )
            return NoCourseError(MotionCode.STEPS_TOO_COARSE, message)
    return explain_no_course(scene, phases, "home" if outs or exact_outs else "out", finder.tick)


def _first_found(search: Callable[[], list[Part]], finder: PartFinder) -> list[Part]:
    """What a search finds, searching deep when it finds nothing else."""
    found = search()
    if not found:
        with finder.searching_deep():
            found = search()
    return found


def _length(mm: float) -> str:
    return f"{in_digits(mm, 3)} mm" if mm < 10 else f"{in_digits(mm / 10, 3)} cm"


def _effort(finder: PartFinder) -> float:
    """Numbers that will be rounded need no refining to the last micrometre."""
    return 1.0 if finder.exact else 0.5


def _near_enough(finder: PartFinder, parts: Sequence[Part]) -> bool:
    """Whether parts go nearly the cheapest way that was found, and not one far about that alone could be rounded."""
    return min(part.way.cost for part in parts) <= ROUNDED_DEARER * finder.cheapest_way


def _extras(finder: PartFinder, half: str) -> tuple[tuple[float, ...], ...]:
    """The groups to try in turn, from the one on that gave something before."""
    if finder.exact:
        return ((0.0,),)
    first = finder.room_first.get((half, finder.numbers))
    return ROUNDING_EXTRA_MM[ROUNDING_EXTRA_MM.index(first) :] if first else ROUNDING_EXTRA_MM


def pick_different(wholes: Sequence[Whole], most: int, price: Callable[[Whole], tuple[float, ...]]) -> list[Whole]:
    """The best course, then ones that differ from every chosen one and are not far dearer."""
    kept: list[Whole] = []
    limit = DEARER * sum(price(wholes[0]))
    for whole in wholes:
        if kept and (sum(price(whole)) > limit or not all(_differ(whole, other) for other in kept)):
            continue
        kept.append(whole)
        if len(kept) == most:
            break
    return kept


def _differ(a: Whole, b: Whole) -> bool:
    return _ways_differ(a.out, b.out) or _ways_differ(a.home, b.home)


def _ways_differ(a: Part, b: Part) -> bool:
    if a.way.directions != b.way.directions:
        return True
    return any(math.dist(p, q) > DIFFERENT_MM for p, q in zip(a.way.points, b.way.points, strict=True))


def different_parts(parts: Sequence[Part], most: int) -> list[Part]:
    """The first parts that go genuinely different ways."""
    kept: list[Part] = []
    for part in parts:
        if all(_ways_differ(part, other) for other in kept):
            kept.append(part)
            if len(kept) == most:
                break
    return kept
