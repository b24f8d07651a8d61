"""Planning courses: from a scene and an aim to checked courses in numbers that the team can set."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace

from motion.check import check_course
from motion.course.actions import PlannedCourse
from motion.course.sentences import _, in_line
from motion.errors import NoCourseError
from motion.scene.checks import scene_problems
from motion.scene.records import Scene
from motion.search.many import ManyFinder, tours_for
from motion.search.orders import Tour
from motion.search.parts import Part, PartFinder
from motion.search.phases import Caution
from motion.search.pool import Pool
from motion.search.steadiest import steadiest
from motion.search.trade import rivals_of, trade_between, trade_words
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
    most_actions: int | None = None,
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
    most_actions
        No course with more actions than this; None for any number.
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
        The first steadiest one says in its ``note`` what its steps cost and gain beside one with fewer.

    Raises
    ------
    SceneError
        The scene makes no sense.
    NoCourseError
        No clear course within the search's resolution, with the tightest place; or ``steps_too_coarse`` when there is
        one, but none whose numbers fit the robot's steps, or ``needs_more_steps``.
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
    asked = _Asked(scene, aim, exact, max(1, min(alternatives, 3)), most_actions, seed)
    with Watch(progress, deadline, cancelled) as watch:
        return _over_many(asked, watch) if scene.more_targets else _over_one(asked, watch)


@dataclass(frozen=True)
class _Asked:
    scene: Scene
    aim: str
    exact: bool
    alternatives: int
    most_actions: int | None
    seed: int


def _over_one(asked: _Asked, watch: Watch) -> list[PlannedCourse]:
    """Courses over one target."""
    scene, aim, alternatives = asked.scene, asked.aim, asked.alternatives
    finder = PartFinder(scene, exact=asked.exact, seed=asked.seed, tick=watch.tick, stop=watch.stop)
    pool = Pool(finder, asked.most_actions)
    watch.stage(0.0, 0.4, _("Looking for ways"))
    _look(pool, alternatives, watch)
    watch.stage(0.4, 0.6, _("Looking for ways"))
    found: dict[str, tuple[list[Whole], list[Whole]]] = {}
    if aim in ("steadiest", "all"):
        found["steadiest"] = steadiest(pool, alternatives, watch.tell)
    for each in ("fastest", "simplest"):
        if aim in (each, "all"):
            found[each] = _best(pool, each, alternatives)
    watch.tell(0.95, _("Checking what was found"))
    courses = [course for each in AIMS if each in found for course in _reported(asked, watch, each, *found[each])]
    watch.stage(1.0, 0.0, _("Done"))
    return courses


def _over_many(asked: _Asked, watch: Watch) -> list[PlannedCourse]:
    """Courses over several targets."""
    finder = ManyFinder(asked.scene, exact=asked.exact, seed=asked.seed, tick=watch.tick, stop=watch.stop)
    aims = AIMS if asked.aim == "all" else (asked.aim,)
    courses: list[PlannedCourse] = []
    for number, each in enumerate(aims):
        watch.stage(number / len(aims), 1 / len(aims), _("Looking for ways"))
        found = tours_for(finder, each, asked.alternatives, asked.most_actions, watch.tell)
        watch.tell(0.9, _("Checking what was found"))
        courses += _reported(asked, watch, each, *found)
    watch.stage(1.0, 0.0, _("Done"))
    return courses


def _reported(
    asked: _Asked, watch: Watch, aim: str, chosen: Sequence[Whole | Tour], ranked: Sequence[Whole | Tour]
) -> list[PlannedCourse]:
    """The courses that were chosen for an aim, the first with what its steps cost and gain; ``ranked`` by that aim."""
    courses = [_checked(asked, watch, aim, course) for course in chosen]
    best, *others = courses
    shorter, longer = rivals_of(chosen[0], ranked, asked.most_actions)
    words = []
    if shorter is not None and aim == "steadiest":
        trade = trade_between(best, _checked(asked, watch, aim, shorter))
        if trade is not None:
            told = {"steps": len(shorter.actions), "trade": trade_words(trade)}
            words.append(_("Beside the steadiest course of {steps} steps: {trade}.", **told))
    if longer is not None:
        trade = trade_between(_checked(asked, watch, aim, longer), best)
        if trade is not None:
            told = {"steps": asked.most_actions, "trade": trade_words(trade)}
            words.append(_("Without the limit of {steps} steps: {trade}.", **told))
    return [replace(best, note=in_line(" ", words) if words else ""), *others]


def _checked(asked: _Asked, watch: Watch, aim: str, course: Whole | Tour) -> PlannedCourse:
    scene, stream = asked.scene, asked.seed + REPORT_STREAM
    check = check_course(scene, course.start, course.actions, runs=REPORT_RUNS, seed=stream, stop=watch.stop)
    watch.tick()
    return PlannedCourse(aim, not asked.exact, scene.margin_mm, course.start, course.actions, check)


def _fastest(whole: Whole, scene: Scene) -> tuple[float, ...]:
    return (whole.seconds(scene),)


def _simplest(whole: Whole, scene: Scene) -> tuple[float, ...]:
    return (float(whole.moves), whole.seconds(scene))


_PRICES: dict[str, Callable[[Whole, Scene], tuple[float, ...]]] = {"fastest": _fastest, "simplest": _simplest}


def _look(pool: Pool, alternatives: int, watch: Watch) -> None:
    """Search for quick courses and for simple ones, whatever was asked for: each may be the best at the other aim."""
    try:
        pool.look(Caution(), Part.by_seconds, alternatives)
    except NoCourseError as refusal:
        if not pool.finder.exact:
            raise
        _look_beside(pool, alternatives, refusal)
    pool.look_deep(Caution(), Part.by_seconds)
    watch.tell(0.45, _("Looking for simpler ways"))
    simple = Caution(move_price_s=MOVE_PRICE_S)
    pool.look(simple, Part.by_moves, alternatives)
    if pool.finder.exact:
        pool.look_in_whole_steps(Caution(), Part.by_seconds)
        pool.look_in_whole_steps(simple, Part.by_moves)
    pool.look_in_coarse_steps(simple, Part.by_moves)
    pool.look_for_few_steps()


def _look_beside(pool: Pool, alternatives: int, refusal: NoCourseError) -> None:
    """Where exact numbers find no way: those of whole steps push beside the target's middle too, and are exact ones as well.

    Raises
    ------
    NoCourseError
        The one before, when they find none either.
    """
    with pool.finder.in_numbers(exact=False):
        try:
            pool.look(Caution(), Part.by_seconds, alternatives)
        except NoCourseError:
            raise refusal from None


def _best(pool: Pool, aim: str, alternatives: int) -> tuple[list[Whole], list[Whole]]:
    """The best courses that are known for an aim, and all courses by it, those of too many actions too."""
    scene = pool.finder.scene

    def price(whole: Whole) -> tuple[float, ...]:
        return _PRICES[aim](whole, scene)

    best, *others = pool.best(price)
    chosen = [best, *pick_different([best, *others], alternatives, price)[1:]]
    return chosen, sorted(pool.known.values(), key=price)
