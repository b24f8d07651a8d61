"""What the runs say, for the team: the numbers of every page, with the diagnosis of the misses on top."""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from django.utils.translation import gettext as _
from django.utils.translation import ngettext

from classroom.models import Robot
from classroom.robots.kinds import key_that_puts_right
from classroom.robots.numbers import RobotNumbers, numbers_for
from classroom.robots.robot_at import robots_at
from classroom.site.isolated import isolated
from classroom.site.listed import listed
from missions.access import current_tier_version
from missions.models import Attempt
from missions.runs.rules.runs_say import LAST, NOTHING_SAID, RunsSay, SaidRun, say
from motion.calibration.diagnosis import Diagnosis, diagnose
from motion.calibration.diagnosis_words import corrected_actions
from motion.chance.logged import Logged, Miss
from motion.course.actions import Action
from motion.course.plain_words import plainly
from motion.errors import MotionCode, MotionError
from planning.courses.plan_today import told_today
from planning.courses.rules.typing import CardRow, card_rows, driving, typed
from planning.courses.scene_for import pose_of, scene_for
from planning.models import Course, Origin
from planning.team.measured import edition_of


@dataclass(frozen=True)
class SaidOfRuns:
    """In words: what, on what evidence, what to try. ``verdict`` is the diagnosis's, or ``"past"`` for a run that does not count.

    ``rows`` are the numbers to try, empty when none should change; ``changed`` their row numbers. They undo what the
    robot does wrong, so they are no new plan: a map drawn from them would miss. ``measure`` is the kind of calibration
    that would put it right for good. ``says`` are the numbers that it rests on.
    """

    verdict: str
    sentence: str
    evidence: str = ""
    advice: str = ""
    says: RunsSay = NOTHING_SAID
    rows: tuple[CardRow, ...] = ()
    changed: frozenset[int] = frozenset()
    measure: str = ""

    @property
    def numbers_in_words(self) -> str:
        """What ``rows`` change: "the tablet's numbers in steps 1, 3 and 8"."""
        steps = [str(number) for number in sorted(self.changed)]
        words = ngettext(
            "the tablet's numbers in step %(steps)s", "the tablet's numbers in steps %(steps)s", len(steps)
        )
        return words % {"steps": listed(steps)}


def what_runs_say(attempt: Attempt, unit: str, now: dt.datetime) -> SaidOfRuns | None:
    """None when there is nothing to compare: no plan or no robot is known, or no miss was measured.

    The runs are those of which every page tells what they say (``missions.runs.rules.runs_say``); runs of other plans of
    the tier are among them, since different courses tell causes apart.
    """
    held = robots_at(attempt.team.club, now, team=attempt.team)
    chosen = Attempt.objects.since_change(held, now).filter(team=attempt.team_id, tier=attempt.tier_id)
    runs = list(reversed(chosen[:LAST]))
    if attempt not in runs:
        past = _("This run is none of the last %(last)s with your robot as it is now: it says nothing of that.") % {
            "last": LAST
        }
        return SaidOfRuns("past", past) if attempt.plan_number is not None else None
    courses = {course.number: course for course in Course.objects.run_in(runs)}
    course = courses.get(attempt.plan_number or 0)
    if course is None or not _shown(course):
        return None
    robot = held[attempt.team_id].robot
    edition = current_tier_version(attempt.tier) or attempt.tier_version
    says = say([said_run(run) for run in runs], edition.version.target.get("window", {}))
    numbers = numbers_for(robot)
    order = [course, *(other for other in courses.values() if other.pk != course.pk)]
    measured = [run for run in runs if _measured(run) and run.plan_number in courses]
    if not any(map(_measured, runs)):
        return None
    legs = [(plan, at) for plan in order for at in _targets_measured(plan, measured)]
    try:
        whole = _logged(course, robot, numbers, ())
        logged = [_logged(plan, robot, numbers, _runs_at(plan, at, measured), at) for plan, at in legs]
        found = diagnose(logged, in_time=_in_time(measured, [(plan.number, at) for plan, at in legs]))
        sizes = {finding.parameter: finding.size for finding in found.findings}
        corrected = corrected_actions(whole.actions, sizes, whole.scene.noise.yaw_reference)
    except MotionError:
        return None  # a plan that never reaches the target explains no miss
    return _said(found, says, whole, tuple(corrected), robot, numbers, unit)


def said_run(run: Attempt) -> SaidRun:
    return SaidRun(run.made_at.timestamp(), run.pk, run.success, *run.miss_at_first)


def _measured(run: Attempt) -> bool:
    return run.lateral_mm is not None or run.along_mm is not None


def _targets_measured(plan: Course, measured: Sequence[Attempt]) -> list[int]:
    """At which targets runs of a plan were measured; the mission's own when none was."""
    return sorted({run.at_target for run in measured if run.plan_number == plan.number}) or [0]


def _runs_at(plan: Course, at: int, measured: Sequence[Attempt]) -> list[Attempt]:
    return [run for run in measured if (run.plan_number, run.at_target) == (plan.number, at)]


def _shown(course: Course) -> bool:
    return course.origin == Origin.TEAM or course.shown_to_team_at is not None


def _in_time(measured: Sequence[Attempt], legs: Sequence[tuple[int, int]]) -> list[tuple[int, int]]:
    """(course, miss) of each measured run, the earliest first; a course ends at the target where it was measured."""
    place = {leg: i for i, leg in enumerate(legs)}
    seen = [0] * len(legs)
    found = []
    for run in measured:
        at = place[run.plan_number or 0, run.at_target]
        found.append((at, seen[at]))
        seen[at] += 1
    return found


def _logged(
    course: Course, robot: Robot, numbers: RobotNumbers, runs: Iterable[Attempt], at: int | None = None
) -> Logged:
    """As the team types the course today, with what is known of the robot; up to one of several targets if one is said."""
    start = pose_of(course.start)
    told = told_today(course, robot, numbers)
    drives = driving(told, start, robot, numbers)
    misses = tuple(Miss(run.lateral_mm, run.along_mm, run.heading_error_deg) for run in runs)
    whole = Logged(scene_for(edition_of(course), robot, numbers=numbers), start, drives.expected, misses, drives.told)
    if at is None or not whole.scene.more_targets:
        return whole
    from motion.chance.logged_at import logged_at  # late: it brings the kernels in

    part = logged_at(whole, at)
    if part is None:
        raise MotionError(MotionCode.NO_PUSH, _("The course does not push the target where this was measured."))
    return part


def _said(
    found: Diagnosis,
    says: RunsSay,
    first: Logged,
    corrected: tuple[Action, ...],
    robot: Robot,
    numbers: RobotNumbers,
    unit: str,
) -> SaidOfRuns:
    sentence, advice = plainly(found.sentence, unit), plainly(found.advice, unit)
    landing = says.landing_in_words(unit)
    if found.verdict == "no_pattern" and says.sides and not found.wider:
        sentence = _("The runs land to one side beyond doubt, and no cause known here explains it.")
        advice = _("Change no numbers yet. Log a few more runs, of another course as well.")
    told = {"runs": says.clean_in_words, "robot": isolated(robot.name), "landing": landing}
    evidence = [
        _("%(runs)s with %(robot)s as it is now worked; on average it %(landing)s.") % told
        if landing
        else _("%(runs)s with %(robot)s as it is now worked.") % told
    ]
    if found.slips:
        evidence.append(_("Run 1 is the oldest of those measured."))
    measure = key_that_puts_right(found.findings[0].parameter) if found.findings else ""
    before = typed(first.actions, first.start, robot, numbers)
    after = typed(corrected, first.start, robot, numbers)
    if found.verdict != "pattern" or after == before:
        return SaidOfRuns(found.verdict, sentence, " ".join(evidence), advice, says, measure=measure)
    old, new = (card_rows(actions, robot, unit) for actions in (before, after))
    changed = frozenset(b.number for a, b in zip(old, new, strict=True) if a != b)
    return SaidOfRuns(found.verdict, sentence, " ".join(evidence), advice, says, tuple(new), changed, measure)
