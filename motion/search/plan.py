"""Planning courses: from a scene and an aim to checked courses in numbers that the team can set."""

from __future__ import annotations

from collections.abc import Callable

from motion.check import check_course
from motion.course.actions import Action, PlannedCourse
from motion.scene.checks import scene_problems
from motion.scene.records import Pose, Scene
from motion.search.many import ManyFinder, tours_for
from motion.search.parts import Part, PartFinder
from motion.search.phases import Caution
from motion.search.pool import Pool
from motion.search.steadiest import steadiest
from motion.search.watch import Watch
from motion.search.wholes import Whole, pick_different

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
    ([('drive', 910.0), ('push', 80.0)], True)
    """
    problems = scene_problems(scene)
    if problems:
        raise problems[0]
    watch = Watch(progress, deadline, cancelled)
    if scene.more_targets:
        with watch:
            return _over_many(scene, aim, exact, max(1, min(alternatives, 3)), seed, watch)
    with watch:
        return _over_one(scene, aim, exact, max(1, min(alternatives, 3)), seed, watch)


def _over_one(scene: Scene, aim: str, exact: bool, alternatives: int, seed: int, watch: Watch) -> list[PlannedCourse]:
    """Courses over one target."""
    pool = Pool(PartFinder(scene, exact=exact, seed=seed, tick=watch.tick, stop=watch.stop))
    watch.stage(0.0, 0.4, "Looking for ways")
    _look(pool, alternatives, watch)
    watch.stage(0.4, 0.6, "Looking for ways")
    found: dict[str, list[Whole]] = {}
    if aim in ("steadiest", "all"):
        found["steadiest"] = steadiest(pool, alternatives, watch.tell)
    for each in ("fastest", "simplest"):
        if aim in (each, "all"):
            found[each] = _best(pool, each, alternatives)
    watch.tell(0.95, "Checking what was found")
    courses = [
        _reported(scene, each, exact, whole.out.start, whole.actions, seed)
        for each in AIMS
        for whole in found.get(each, ())
    ]
    watch.stage(1.0, 0.0, "Done")
    return courses


def _over_many(scene: Scene, aim: str, exact: bool, alternatives: int, seed: int, watch: Watch) -> list[PlannedCourse]:
    """Courses over several targets."""
    finder = ManyFinder(scene, exact=exact, seed=seed, tick=watch.tick, stop=watch.stop)
    aims = AIMS if aim == "all" else (aim,)
    courses: list[PlannedCourse] = []
    for number, each in enumerate(aims):
        watch.stage(number / len(aims), 1 / len(aims), "Looking for ways")
        found = tours_for(finder, each, alternatives, watch.tell)
        watch.tell(0.9, "Checking what was found")
        courses += [_reported(scene, each, exact, tour.start, tour.actions, seed) for tour in found]
    watch.stage(1.0, 0.0, "Done")
    return courses


def _reported(
    scene: Scene, aim: str, exact: bool, start: Pose, actions: tuple[Action, ...], seed: int
) -> PlannedCourse:
    check = check_course(scene, start, actions, runs=REPORT_RUNS, seed=seed + REPORT_STREAM)
    return PlannedCourse(aim, not exact, scene.margin_mm, start, actions, check)


def _fastest(whole: Whole, scene: Scene) -> tuple[float, ...]:
    return (whole.seconds(scene),)


def _simplest(whole: Whole, scene: Scene) -> tuple[float, ...]:
    return (float(whole.moves), whole.seconds(scene))


_PRICES: dict[str, Callable[[Whole, Scene], tuple[float, ...]]] = {"fastest": _fastest, "simplest": _simplest}


def _look(pool: Pool, alternatives: int, watch: Watch) -> None:
    """Search for quick courses and for simple ones, whatever was asked for: each may be the best at the other aim."""
    pool.look(Caution(), Part.by_seconds, alternatives)
    watch.tell(0.45, "Looking for simpler ways")
    simple = Caution(move_price_s=MOVE_PRICE_S)
    pool.look(simple, Part.by_moves, alternatives)
    if pool.finder.exact:
        pool.look_in_whole_steps(Caution(), Part.by_seconds)
        pool.look_in_whole_steps(simple, Part.by_moves)


def _best(pool: Pool, aim: str, alternatives: int) -> list[Whole]:
    """The best courses that are known for an aim."""
    scene = pool.finder.scene

    def price(whole: Whole) -> tuple[float, ...]:
        return _PRICES[aim](whole, scene)

    best, *others = pool.best(price)
    return [best, *pick_different([best, *others], alternatives, price)[1:]]
