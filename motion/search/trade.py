"""What steps cost and gain: one course beside another in words, and the most steps that a course may have."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from typing import Protocol, TypeVar

from motion.course.actions import Action, PlannedCourse
from motion.course.sentences import _, ngettext, numeral
from motion.errors import MotionCode, NoCourseError
from motion.units import figure, whole_number


class _Course(Protocol):
    @property
    def actions(self) -> tuple[Action, ...]: ...


C = TypeVar("C", bound=_Course)


@dataclass(frozen=True)
class Trade:
    """What a course has more than another one: actions, seconds, and successes in 100 runs; less when negative."""

    actions: int
    seconds: float
    in_100: float


def trade_between(course: PlannedCourse, other: PlannedCourse) -> Trade | None:
    """What a course has more than another; None when the chance of either is not known.

    >>> from motion.check import check_course
    >>> from motion.course.example import example_course
    >>> from motion.scene.example import example_scene
    >>> scene, actions = example_scene(), example_course()
    >>> check = check_course(scene, scene.start, actions, runs=1000)
    >>> course = PlannedCourse("steadiest", True, scene.margin_mm, scene.start, actions, check)
    >>> trade_between(course, course)
    Trade(actions=0, seconds=0.0, in_100=0.0)
    """
    mine, others = course.check.success, other.check.success
    if mine is None or others is None:
        return None
    seconds = course.check.duration_s - other.check.duration_s
    return Trade(len(course.actions) - len(other.actions), seconds, 100 * (mine.probability - others.probability))


def trade_words(trade: Trade) -> str:
    """The trade as a person weighs it.

    >>> trade_words(Trade(2, 2.04, 5.2))
    '2 more steps, 2.0 s more: 5 more of 100 runs work'
    >>> trade_words(Trade(1, -0.01, 0.6))
    '1 more step, in the same time: 1 more of 100 runs works'
    >>> trade_words(Trade(3, -1.2, 0.2))
    '3 more steps, 1.2 s less: as many of 100 runs work'
    """
    return _(
        "{steps}, {time}: {runs}", steps=_steps(trade.actions), time=_time(trade.seconds), runs=_runs(trade.in_100)
    )


def _steps(more: int) -> str:
    if more > 0:
        return ngettext("{n} more step", "{n} more steps", more)
    return ngettext("{n} fewer step", "{n} fewer steps", -more)


def _time(more_s: float) -> str:
    seconds = figure(abs(more_s), 1)
    if seconds == figure(0, 1):
        return _("in the same time")
    if more_s > 0:
        return _("{seconds} s more", seconds=numeral(seconds))
    return _("{seconds} s less", seconds=numeral(seconds))


def _runs(more_in_100: float) -> str:
    runs = whole_number(abs(more_in_100))
    if runs == 0:
        return _("as many of 100 runs work")
    if more_in_100 > 0:
        return ngettext("{n} more of 100 runs works", "{n} more of 100 runs work", runs)
    return ngettext("{n} fewer of 100 runs works", "{n} fewer of 100 runs work", runs)


def of_few_steps(courses: Iterable[C], most_actions: int | None) -> list[C]:
    """The courses that have no more than so many actions; all of them when there is no such limit.

    >>> from types import SimpleNamespace
    >>> courses = [SimpleNamespace(actions=range(n)) for n in (9, 7, 8)]
    >>> [len(course.actions) for course in of_few_steps(courses, 8)], len(of_few_steps(courses, None))
    ([7, 8], 3)
    """
    return [course for course in courses if most_actions is None or len(course.actions) <= most_actions]


def rivals_of(best: C, ranked: Sequence[C], most_actions: int | None) -> tuple[C | None, C | None]:
    """Of courses, the steadiest first, those to weigh the best one against.

    The steadiest of those with fewer steps; and the steadiest of all when only its steps are too many.

    >>> from types import SimpleNamespace
    >>> nine, eight, seven = courses = [SimpleNamespace(actions=range(n)) for n in (9, 8, 7)]
    >>> rivals_of(nine, courses, None) == (eight, None), rivals_of(eight, courses, 8) == (seven, nine)
    (True, True)
    """
    shorter = next((course for course in ranked if len(course.actions) < len(best.actions)), None)
    longer = ranked[0] if most_actions is not None and len(ranked[0].actions) > most_actions else None
    return shorter, longer


def needs_more_steps(courses: Iterable[_Course], most_actions: int) -> NoCourseError:
    """The refusal when every course that was found has more actions than were allowed.

    >>> from types import SimpleNamespace
    >>> print(needs_more_steps([SimpleNamespace(actions=range(n)) for n in (9, 7, 8)], 5))
    No course of at most 5 steps was found; the shortest that was found has 7. Allow 7 steps, or make more room for a \
straighter way.
    """
    least = min(len(course.actions) for course in courses)
    return NoCourseError(
        MotionCode.NEEDS_MORE_STEPS,
        _(
            "No course of at most {most} steps was found; the shortest that was found has {least}. Allow {least} steps, or make more room for a straighter way.",
            most=most_actions,
            least=least,
        ),
    )
