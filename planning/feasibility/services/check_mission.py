"""Checking a mission's saved draft with one robot in full, and with the club's others as far as to warn.

The chosen robot, else the typical one, decides whether the draft may be published. The others get one cheap question
each (any course at all, with a kit's usual numbers), which robots built alike share; what they cannot do is told.
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Sequence
from dataclasses import dataclass

from django.db import transaction

from classroom.models import Club, Coach, Robot, RobotState
from missions.editor.rules.layout import layout_problems
from missions.ladder.mission_file import Document, document_of
from missions.ladder.rules.typical_robot import PLAIN_NAME, pushing_body, robot_said, typical_nose, typical_robot
from missions.ladder.services.edit_mission import newest_version
from missions.ladder.services.publish_mission import Verdict
from missions.models import Mission, MissionVersion
from motion.scene.checks import scene_problems
from motion.scene.files import scene_to_dict
from motion.scene.records import Scene
from planning.feasibility.services.feasibility import (
    FEASIBILITY,
    FeasibilityAnswer,
    ask_feasibility,
    question_about,
    robots_for,
    scene_of,
    unmeasured_numbers,
    verdict_of,
)
from planning.jobs.services.ask_for_job import ask_for_job, input_hash
from planning.jobs.services.cancel_job import cancel_job
from planning.models import Job

#: Found sooner than the steadiest, and enough to know that there is a course and whether it keeps the limit.
CHEAP_AIM = "fastest"


@dataclass(frozen=True)
class OtherRobot:
    """What is known of another robot of the club: the tiers that it cannot do, and whether any is not known yet."""

    robot: str
    cannot: tuple[FeasibilityAnswer, ...]
    is_open: bool
    unasked: bool


@dataclass(frozen=True)
class MissionCheck:
    """How a draft stands: an answer for each tier with the robot that decides, and what the others add."""

    version: MissionVersion
    document: Document
    robot: str
    answers: tuple[FeasibilityAnswer, ...]
    others: tuple[OtherRobot, ...]

    @property
    def robot_said(self) -> str:
        """The robot's name as whoever reads calls it."""
        return robot_said(self.robot)

    @property
    def is_open(self) -> bool:
        return any(answer.is_open for answer in self.answers)

    @property
    def others_open(self) -> bool:
        return any(other.is_open for other in self.others)

    @property
    def others_unasked(self) -> bool:
        """Nothing has been asked about any of them since the drawing was last changed."""
        return all(other.unasked and not other.is_open and not other.cannot for other in self.others)

    @property
    def warnings(self) -> list[tuple[list[str], str, str]]:
        """What others cannot do, as (robots, tier, why); those that fail alike together."""
        found: dict[tuple[str, str], list[str]] = {}
        for other in self.others:
            for answer in other.cannot:
                found.setdefault((answer.question.tier_name, answer.verdict.words), []).append(other.robot)
        return [(names, tier, words) for (tier, words), names in found.items()]

    @property
    def others_fine(self) -> list[str]:
        return [o.robot for o in self.others if not (o.cannot or o.is_open or o.unasked)]

    @property
    def others_waiting(self) -> list[str]:
        return [other.robot for other in self.others if other.is_open]

    @property
    def others_unknown(self) -> list[str]:
        return [other.robot for other in self.others if other.unasked and not other.is_open]

    @property
    def unasked(self) -> bool:
        return any(answer.verdict.feasible is None and not answer.is_open for answer in self.answers)

    @property
    def passes(self) -> bool:
        return all(answer.verdict.feasible for answer in self.answers)

    @property
    def verdicts(self) -> dict[int, Verdict]:
        """By the primary key of each tier, as publishing wants them."""
        return {int(answer.question.tier): answer.verdict for answer in self.answers}


@transaction.atomic
def check_mission(mission: Mission, coach: Coach, choice: str, *, now: dt.datetime) -> None:
    """Ask the planner about every tier of the saved draft: in full for the robot that decides, then cheaply.

    A drawing in which something must change first is not asked about.
    """
    version = newest_version(mission)
    club, document, tiers = mission.club, _document(version), list(version.tier_versions.all())
    (decides,) = _one(club, choice)
    keys = [str(i) for i in range(len(tiers))]
    body = pushing_body(typical_robot(club))
    if any(problem.stops for problem in layout_problems(document, body, club.unit)):
        return  # said with the drawing
    ask_feasibility(club, coach, document, keys, [decides], now=now)
    wanted = set()
    for robot in _others(club, decides):
        for index, tier in enumerate(tiers):
            scene = scene_of(document, index, robot, club, unmeasured_numbers())
            if not scene_problems(scene):
                job = ask_for_job(club, FEASIBILITY, _cheap(scene), tier_version=tier, asked_by=coach, now=now)
                wanted.add(job.pk)
    # What was asked about the draft as it was drawn before keeps no course waiting.
    for job in Job.objects.unfinished().filter(kind=FEASIBILITY, tier_version__in=tiers).exclude(pk__in=wanted):
        cancel_job(job, now=now)


def standing_check(mission: Mission, choice: str) -> MissionCheck:
    """What is known by now about the saved draft; nothing is started."""
    version = newest_version(mission)
    document = _document(version)
    (decides,) = _one(mission.club, choice)
    others = _others(mission.club, decides)
    scenes = [_Scenes(document, mission.club, decides, full=True)]
    scenes += [_Scenes(document, mission.club, robot, full=False) for robot in others]
    digests = {digest for each in scenes for digest in each.digests if digest}
    jobs = Job.objects.telling_of_each(mission.club, FEASIBILITY, digests)
    tiers = [str(pk) for pk in version.tier_versions.values_list("tier_id", flat=True)]
    first, *rest = [each.answers(tiers, jobs) for each in scenes]
    return MissionCheck(
        version=version,
        document=document,
        robot=decides.name if decides else PLAIN_NAME,
        answers=first,
        others=tuple(_other(robot, answers) for robot, answers in zip(others, rest, strict=True)),
    )


class _Scenes:
    """One robot's tiers as questions: what is wrong with each, else the digest of what answers it."""

    def __init__(self, document: Document, club: Club, robot: Robot | None, *, full: bool) -> None:
        self.document, self.club, self.robot = document, club, robot
        self.problems, self.digests = [], []
        for index in range(len(document["tiers"])):
            scene = scene_of(document, index, robot, club, None if full else unmeasured_numbers())
            problems = scene_problems(scene)
            asked = {"scene": scene_to_dict(scene)} if full else _cheap(scene)
            self.problems.append(problems)
            self.digests.append("" if problems else input_hash(FEASIBILITY, asked))

    def answers(self, keys: Sequence[str], jobs: dict[str, Job]) -> tuple[FeasibilityAnswer, ...]:
        rows = zip(keys, self.document["tiers"], self.problems, self.digests, strict=True)
        found = []
        for key, tier, problems, digest in rows:
            job = jobs.get(digest)
            question = question_about(key, tier, self.robot, job.pk if job else None, problems)
            found.append(FeasibilityAnswer(question, job, verdict_of(job, question, self.club.unit)))
        return tuple(found)


def _other(robot: Robot, answers: Sequence[FeasibilityAnswer]) -> OtherRobot:
    return OtherRobot(
        robot=robot.name,
        cannot=tuple(answer for answer in answers if answer.verdict.feasible is False),
        is_open=any(answer.is_open for answer in answers),
        unasked=any(answer.verdict.feasible is None and not answer.is_open for answer in answers),
    )


def _document(version: MissionVersion) -> Document:
    return document_of(version, typical_nose(version.mission.club))


def _one(club: Club, choice: str) -> list[Robot | None]:
    return robots_for(club, "" if choice == "all" else choice)


def _others(club: Club, decides: Robot | None) -> list[Robot]:
    """The club's robots in service but the one that decides, in the club's order."""
    in_service = Robot.objects.filter(club=club, state=RobotState.IN_SERVICE)
    return [robot for robot in in_service if decides is None or robot.pk != decides.pk]


def _cheap(scene: Scene) -> dict[str, object]:
    return {"scene": scene_to_dict(scene), "aim": CHEAP_AIM}
