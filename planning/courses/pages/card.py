"""A course as its card shows it today: what to type, on what map, and what to expect of it."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass

from django.utils.translation import gettext as _
from django.utils.translation import gettext_noop

from classroom.robots.numbers import RobotNumbers, numbers_of_each
from classroom.site.figures import figure_said, in_own_digits
from classroom.site.isolated import isolated
from missions.access import current_tier_version
from missions.ladder.rules.layouts import same_map
from missions.models import TierVersion
from motion.course.actions import Action, Check, Landing, Touch
from motion.course.plain_words import touches_in
from motion.scene.records import Pose, Scene
from motion.units import format_length, whole_number
from planning.courses.learned import known_robots
from planning.courses.pages.next_measurement import next_words
from planning.courses.pages.rests_on import rests_on
from planning.courses.plan_today import PlanToday, plan_today
from planning.courses.rules.course_words import each_in_words
from planning.courses.rules.known_robot import KnownRobot
from planning.courses.rules.marks import marks_of
from planning.courses.rules.typing import CardRow, card_rows
from planning.forecasts.queries import forecasts_of
from planning.forecasts.rules import Forecast
from planning.models import Course, Origin
from planning.team.measured import editions_of


@dataclass(frozen=True)
class CourseCard:
    """``actions`` are true ones, for the numbers in ``rows``; ``check`` is of just those.

    ``touches`` are the check's, with their words in the club's unit;
    ``words`` say what has changed since the course was made and what to do about it; ``rests_on`` names what the
    predictions rest on, ``forecast`` what was said of it and came since, ``measure_next`` what to measure next.
    """

    course: Course
    scene: Scene
    start: Pose
    actions: tuple[Action, ...]
    rows: list[CardRow]
    check: Check
    touches: tuple[Touch, ...]
    numbers: RobotNumbers
    words: tuple[str, ...]
    rests_on: str
    forecast: Forecast | None
    measure_next: str
    weakest: str
    landing_words: str
    touch_words: tuple[str, ...]
    marks: tuple[str, ...]

    @property
    def print_size(self) -> str:
        """How small a printed card must be set to stay on its page; the map gives way first. A class of planning.css."""
        lines = len(self.rows) + 2 * len(self.words) + 2 * len(self.touches)
        return "packed" if lines > 24 else "many" if lines > 12 else ""

    @property
    def runs_in_100(self) -> int | None:
        return whole_number(self.check.success.probability * 100) if self.check.success else None

    @property
    def low_in_100(self) -> int | None:
        return whole_number(self.check.success.low * 100) if self.check.success else None

    @property
    def high_in_100(self) -> int | None:
        return whole_number(self.check.success.high * 100) if self.check.success else None

    @property
    def each_in_100(self) -> str:
        """Of several targets how many runs work at each; empty for one."""
        return each_in_words(self.check)

    @property
    def told(self) -> tuple[object, ...]:
        """All that a printed card shows beside its map, as plain values."""
        course, check = self.course, self.check
        edition, robot = course.tier_version, course.robot
        head = (
            course.pk,
            course.number,
            course.team.name,
            edition.version.mission.title,
            edition.tier.name,
            robot.name,
        )
        chances = (self.runs_in_100, self.low_in_100, self.high_in_100, self.each_in_100, check.duration_s, check.clear)
        words = (self.words, self.rests_on, self.measure_next, self.weakest, self.landing_words, self.touch_words)
        rows, unit = [row.told for row in self.rows], course.team.club.unit
        return head, robot.yaw_reference, self.print_size, rows, chances, self.forecast, words, self.marks, unit


@dataclass(frozen=True)
class CardsShare:
    """What cards of many courses ask for once: forecasts and maps by course, the newest version of each course's tier, and
    by robot its numbers and what is known of it.
    """

    forecasts: Mapping[int, Forecast]
    editions: Mapping[int, TierVersion]
    newest: Mapping[int, TierVersion | None]
    numbers: Mapping[int, RobotNumbers]
    known: Mapping[int, KnownRobot]

    @classmethod
    def of(cls, courses: Sequence[Course]) -> CardsShare:
        tiers = {course.tier_version.tier_id: course.tier_version.tier for course in courses}
        robots = {course.robot_id: course.robot for course in courses}
        numbers = numbers_of_each(robots.values())
        return cls(
            forecasts_of(courses),
            editions_of(courses),
            {pk: current_tier_version(tier) for pk, tier in tiers.items()},
            numbers,
            known_robots([(robot, numbers[pk]) for pk, robot in robots.items()]),
        )


def card_of(course: Course, *, beside: CardsShare | None = None) -> CourseCard:
    """The card for the robot's numbers in force; which numbers those are, ``plan_today`` says."""
    beside = beside or CardsShare.of([course])
    today = plan_today(
        course,
        numbers=beside.numbers[course.robot_id],
        known=beside.known[course.robot_id],
        edition=beside.editions[course.pk],
    )
    touches = tuple(touches_in(today.check.touches, course.team.club.unit))
    rows = card_rows(today.told, course.robot, course.team.club.unit, today.check)
    return CourseCard(
        course=course,
        scene=today.scene,
        start=today.start,
        actions=today.true,
        rows=rows,
        check=today.check,
        touches=touches,
        numbers=today.numbers,
        words=tuple(_changes(course, today, beside.newest[course.tier_version.tier_id])),
        rests_on=rests_on(today.check, today.numbers, course.robot.name, today.known.runs),
        forecast=beside.forecasts.get(course.pk),
        measure_next=next_words(today),
        weakest=_weakest(today.check, rows),
        landing_words=_landing_words(today.check, course),
        touch_words=tuple(_touch_words(today.check, touches)),
        marks=tuple(marks_of(today.check, course.team.club.unit)),
    )


def _changes(course: Course, today: PlanToday, newest: TierVersion | None) -> list[str]:
    name, said = isolated(course.robot.name), []
    if today.moved and course.origin == Origin.PLANNER:
        said.append(
            _(
                "%(robot)s has been measured again since this plan was made. The numbers to type and what to expect are those "
                "of today; ask for a new course to have the best for them."
            )
        )
    elif today.moved:
        said.append(
            _(
                "%(robot)s has been measured again since the team typed this. The numbers are the team's; the map and what to "
                "expect show where they lead as we know the robot today."
            )
        )
    if course.robot.changed_at > course.created_at:
        said.append(_("%(robot)s was built differently since this plan was made. Measure it, then plan again."))
    if newest is not None and newest.pk != course.tier_version_id and not same_map(newest, course.tier_version):
        said.append(
            _("The mission has changed since this plan was made; this is its way over the old map. Plan again.")
        )
    return [words % {"robot": name} for words in said]


def _touch_words(check: Check, in_unit: Sequence[Touch]) -> Iterator[str]:
    """What it touches or leaves undone, each with its step."""
    for touch, told in zip(check.touches, in_unit, strict=True):
        words = str(told.message)
        if touch.message.startswith("Step ") or not 0 <= touch.action < len(check.room_mm):  # its English
            yield words
        else:
            yield _("Step %(step)s: %(words)s") % {"step": touch.action + 1, "words": words}


#: Which part of a step most of the spread comes from.
_OF_A_STEP = {
    "turn": gettext_noop("Most of the spread (%(share)s %%) comes from step %(step)s, “%(words)s”: its turn."),
    "distance": gettext_noop("Most of the spread (%(share)s %%) comes from step %(step)s, “%(words)s”: its distance."),
    "drift": gettext_noop(
        "Most of the spread (%(share)s %%) comes from step %(step)s, “%(words)s”: its heading while driving."
    ),
}


def _weakest(check: Check, rows: list[CardRow]) -> str:
    """Which step to worry about: the largest part of the spread at the target."""
    if not check.shares:
        return ""
    most = max(check.shares, key=lambda share: share.fraction)
    share = figure_said(100 * most.fraction)
    if most.source == "start":
        words = _("Most of the spread (%(share)s %%) comes from how the robot is set down at the start.")
        return words % {"share": share}
    if most.source == "scale" or not 0 <= most.action < len(rows):
        words = _("Most of the spread (%(share)s %%) comes from how far the robot thinks it drives.")
        return words % {"share": share}
    row = rows[most.action]
    return _(_OF_A_STEP[most.source]) % {"share": share, "step": row.number, "words": row.words.lower()}


def _landing_words(check: Check, course: Course) -> str:
    """Where these whole numbers meet the target, and how far from there runs spread; of several targets, each."""
    unit = course.team.club.unit
    if check.meetings:
        return " ".join(_meets(met.name, met.landing, unit) for met in check.meetings)
    return "" if check.landing is None else _meets(_("target"), check.landing, unit)


def _meets(name: str, landing: Landing, unit: str) -> str:
    decimals = {"mm": 0, "cm": 1, "in": 2}[unit]
    spread = in_own_digits(format_length(1.645 * landing.lateral_sd_mm, unit, decimals=decimals))
    off = format_length(abs(landing.lateral_mm), unit, decimals=decimals)
    if off.startswith("0 "):
        words = _(
            "These numbers meet the %(target)s on its middle line; 9 runs in 10 land within %(spread)s of that, to either side."
        )
    elif landing.lateral_mm > 0:
        words = _(
            "These numbers meet the %(target)s %(off)s left of its middle line; 9 runs in 10 land within %(spread)s of that, "
            "to either side."
        )
    else:
        words = _(
            "These numbers meet the %(target)s %(off)s right of its middle line; 9 runs in 10 land within %(spread)s of that, "
            "to either side."
        )
    return words % {"target": name, "off": in_own_digits(off), "spread": spread}
