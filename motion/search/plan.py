"""Planning courses: from a scene and an aim to checked courses in numbers that the team can set."""

from __future__ import annotations

from collections.abc import Callable

from motion.check import check_course
from motion.course.actions import Action, PlannedCourse
from motion.errors import CancelledError, DeadlineError, MotionCode
from motion.scene.checks import scene_problems
from motion.scene.records import Pose, Scene
from motion.search.many import ManyFinder, tours_for
from motion.search.parts import PartFinder
from motion.search.phases import Caution
from motion.search.steadiest import steadiest
from motion.search.wholes import Whole, different_parts, first_homes, first_outs, no_whole, pick_different

AIMS = ("steadiest", "fastest", "simplest")

#: What a turn or leg costs on top of its time when the fewest are wanted, s.
MOVE_PRICE_S = 8.0
REPORT_RUNS, REPORT_STREAM = 20_000, 1_000_003


def plan_courses(
    scene: Scene,
    aim: str = "steadiest",
    *,
    exact: bool = False,
    alternatives: int = 1,
    seed: int = 0,
    progress: Callable[[float, str], None] | None = None,
    deadline: Callable[[], float | None] | None = None,
    cancelled: Callable[[], bool] | None = None,
) -> list[PlannedCourse]:
    """Plan courses for a scene.

    Parameters
    ----------
    scene
        A scene without problems.
    aim
        ``"steadiest"`` (highest predicted success), ``"fastest"``, ``"simplest"`` (fewest actions, then time) or
        ``"all"`` (the three in that order).
    exact
        Leave numbers as they come instead of on the robot's steps.
    alternatives
        Up to so many genuinely different courses an aim (1 to 3), best first.
    seed
        Same scene, aim and seed: same answer.
    progress
        Called with a fraction and words for a person.
    deadline
        Says how many seconds are left; None for no deadline.
    cancelled
        Says whether to stop.

    Returns
    -------
    list of Course
        Every one clear by :func:`motion.check.check_course`, its success simulated on a stream that no choice was made on.

    Raises
    ------
    SceneError
        The scene makes no sense.
    NoCourseError
        No clear course within the search's resolution, with the tightest place; or ``steps_too_coarse`` when there is
        one, but none whose numbers fit the robot's steps.
    DeadlineError, CancelledError
        Nothing was quietly cut short.

    Examples
    --------
    >>> from motion.scene.example import example_scene
    >>> course = plan_courses(example_scene(), "fastest")[0]
    >>> [(action.do, action.distance_mm) for action in course.actions[:2]], course.check.clear
    ([('drive', 900.0), ('push', 100.0)], True)
    """
    problems = scene_problems(scene)
    if problems:
        raise problems[0]
    watch = _Watch(progress, deadline, cancelled)
    if scene.more_targets:
        return _over_many(scene, aim, exact, max(1, min(alternatives, 3)), seed, watch)
    finder = PartFinder(scene, exact=exact, seed=seed, tick=watch.tick)
    aims = AIMS if aim == "all" else (aim,)
    courses: list[PlannedCourse] = []
    for number, each in enumerate(aims):
        watch.stage(number / len(aims), 1 / len(aims), "Looking for ways")
        found = _PLANS[each](finder, max(1, min(alternatives, 3)), watch)
        watch.tell(0.9, "Checking what was found")
        courses += [_reported(scene, each, exact, whole.out.start, whole.actions, seed) for whole in found]
    watch.stage(1.0, 0.0, "Done")
    return courses


def _over_many(scene: Scene, aim: str, exact: bool, alternatives: int, seed: int, watch: _Watch) -> list[PlannedCourse]:
    """Courses over several targets."""
    finder = ManyFinder(scene, exact=exact, seed=seed, tick=watch.tick)
    aims = AIMS if aim == "all" else (aim,)
    courses: list[PlannedCourse] = []
    for number, each in enumerate(aims):
        watch.stage(number / len(aims), 1 / len(aims), "Looking for ways")
        found = tours_for(finder, each, alternatives, watch.tell)
        watch.tell(0.9, "Checking what was found")
        courses += [_reported(scene, each, exact, tour.start, tour.actions, seed) for tour in found]
    watch.stage(1.0, 0.0, "Done")
    return courses


class _Watch:
    """Progress, deadline and cancelling in one place."""

    def __init__(
        self,
        progress: Callable[[float, str], None] | None,
        deadline: Callable[[], float | None] | None,
        cancelled: Callable[[], bool] | None,
    ) -> None:
        self._progress, self._deadline, self._cancelled = progress, deadline, cancelled
        self._from, self._part = 0.0, 1.0

    def stage(self, fraction: float, part: float, words: str) -> None:
        self._from, self._part = fraction, part
        self.tell(0.0, words)

    def tell(self, fraction: float, words: str) -> None:
        self.tick()
        if self._progress is not None:
            self._progress(min(1.0, self._from + self._part * fraction), words)

    def tick(self) -> None:
        if self._cancelled is not None and self._cancelled():
            raise CancelledError(MotionCode.CANCELLED, "Planning was stopped.")
        if self._deadline is not None:
            left = self._deadline()
            if left is not None and left <= 0:
                raise DeadlineError(
                    MotionCode.DEADLINE,
                    "Planning took longer than it may; take away some obstacles or corners, or allow more time.",
                )


def _reported(
    scene: Scene, aim: str, exact: bool, start: Pose, actions: tuple[Action, ...], seed: int
) -> PlannedCourse:
    check = check_course(scene, start, actions, runs=REPORT_RUNS, seed=seed + REPORT_STREAM)
    return PlannedCourse(aim, not exact, scene.margin_mm, start, actions, check)


def _cheapest(
    finder: PartFinder, alternatives: int, watch: _Watch, caution: Caution, price: Callable[[Whole], tuple[float, ...]]
) -> list[Whole]:
    """The cheapest whole courses by a price, genuinely different ones first when alternatives are wanted."""
    outs = first_outs(finder, caution)
    watch.tell(0.45, "Looking for ways home")
    wholes: list[Whole] = []
    chosen = different_parts(outs, alternatives)
    for number, out in enumerate([*chosen, *(o for o in outs if o not in chosen)]):
        if number >= len(chosen) and wholes:
            break
        homes = first_homes(finder, caution, out.end)
        wholes += [Whole(out, home) for home in homes]
        watch.tell(0.45 + 0.4 * (number + 1) / max(len(chosen), 1), "Looking for ways home")
    if not wholes:
        raise no_whole(finder, outs)
    wholes.sort(key=price)
    return pick_different(wholes, alternatives, price)


def _plan_fastest(finder: PartFinder, alternatives: int, watch: _Watch) -> list[Whole]:
    return _cheapest(finder, alternatives, watch, Caution(), lambda whole: (whole.seconds(finder.scene),))


def _plan_simplest(finder: PartFinder, alternatives: int, watch: _Watch) -> list[Whole]:
    return _cheapest(
        finder,
        alternatives,
        watch,
        Caution(move_price_s=MOVE_PRICE_S),
        lambda whole: (float(whole.moves), whole.seconds(finder.scene)),
    )


def _plan_steadiest(finder: PartFinder, alternatives: int, watch: _Watch) -> list[Whole]:
    return steadiest(finder, alternatives, watch.tell)


_PLANS: dict[str, Callable[[PartFinder, int, _Watch], list[Whole]]] = {
    "fastest": _plan_fastest,
    "simplest": _plan_simplest,
    "steadiest": _plan_steadiest,
}
