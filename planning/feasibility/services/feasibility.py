"""Can a mission be done? The planner's answer for each tier and robot, as a job on the geometry alone."""

from __future__ import annotations

import datetime as dt
import math
from collections.abc import Mapping, Sequence
from dataclasses import asdict, dataclass, replace
from typing import Any

from django.db import transaction
from django.utils.translation import gettext as _
from django.utils.translation import gettext_noop

from classroom.models import Club, Coach, Robot, RobotState
from classroom.robots.numbers import RobotNumbers, numbers_for, unmeasured_numbers
from classroom.site.figures import figure_said, in_own_digits, length_said
from missions.ladder.mission_file import Document, missing_of, more_targets_of
from missions.ladder.rules.typical_robot import PLAIN_BODY, PLAIN_NAME, robot_said, typical_robot
from missions.ladder.services.publish_mission import Verdict
from missions.models import Mission, MissionVersion, Tier, TierKind, TierVersion
from motion.chance.pace import within_limit
from motion.course.actions import PlannedCourse
from motion.course.plain_words import plainly
from motion.course.sentences import kept
from motion.errors import NoCourseError, SceneError
from motion.scene.checks import scene_problems
from motion.scene.files import pose_to_dict, scene_from_dict, scene_to_dict
from motion.scene.records import Pace, Scene
from planning.courses.rules.course_json import actions_to_json, mend_to_json, refusal_to_json
from planning.courses.scene_for import scene_for
from planning.jobs.progress import JobControl
from planning.jobs.services.ask_for_job import ask_for_job
from planning.jobs.services.cancel_job import cancel_job
from planning.models import Job, JobState

FEASIBILITY = "feasibility"
#: A limit that the slowest of the club's robots beats with a quarter to spare, in steps of 5 s. Common practice, no
#: source.
LIMIT_SLACK = 1.25
LIMIT_STEP_S = 5.0
#: After "with", by its aim.
_COURSE_SAID = {
    "steadiest": gettext_noop("the steadiest course"),
    "fastest": gettext_noop("the fastest course"),
    "simplest": gettext_noop("the simplest course"),
}


@dataclass(frozen=True)
class FeasibilityQuestion:
    """One tier for one robot: ``job`` is None when the drawing itself is wrong, as ``words`` say.

    ``robot_pk`` is None for a plain body.
    """

    tier: str
    tier_name: str
    kind: str
    limit_s: float | None
    robot: str
    job: int | None
    words: str = ""
    robot_pk: int | None = None

    @property
    def robot_said(self) -> str:
        """The robot's name as whoever reads calls it."""
        return robot_said(self.robot)


@dataclass(frozen=True)
class FeasibilityAnswer:
    question: FeasibilityQuestion
    job: Job | None
    verdict: Verdict

    @property
    def result(self) -> dict[str, Any]:
        return (self.job.result or {}) if self.job and self.job.state == JobState.DONE else {}

    @property
    def best(self) -> dict[str, Any] | None:
        """The course that works most often; on a timed tier within its limit, and its chance then includes the time."""
        return best_course(self.result.get("courses", {}), self.limit_s)

    @property
    def limit_s(self) -> float | None:
        return self.question.limit_s if self.question.kind == TierKind.TIMED else None

    @property
    def aim(self) -> str:
        """ "steadiest", "fastest" or "simplest": which of them ``best`` is."""
        courses, best = self.result.get("courses", {}), self.best
        return next((aim for aim, one in courses.items() if best and one["duration_s"] == best["duration_s"]), "")

    @property
    def course_said(self) -> str:
        """Which of them ``best`` is, after "with"."""
        return _(_COURSE_SAID[self.aim or "steadiest"])

    @property
    def measured_runs(self) -> int | None:
        """How many measured runs of the robot the prediction rests on; None for a kit's usual numbers."""
        runs: int | None = self.job.input["scene"]["noise"]["runs"] if self.job else None
        return runs

    @property
    def is_open(self) -> bool:
        return self.job is not None and not self.job.is_over


def best_course(courses: Mapping[str, dict[str, Any]], limit_s: float | None) -> dict[str, Any] | None:
    """Of one tier's courses by aim: the steadiest, or, with a limit, the one that most often works within it."""
    if limit_s is None:
        return courses.get("steadiest")
    timed = [_within(course, limit_s) for course in courses.values()]
    known = [course for course in timed if course["success"]]
    if not known:
        return min(timed, key=lambda course: course["duration_s"], default=None)
    return max(known, key=lambda course: (course["success"]["probability"], -course["duration_s"]))


def _within(course: dict[str, Any], limit_s: float) -> dict[str, Any]:
    """The course with the chance that a run works and keeps the limit."""
    if not course["success"]:
        return course
    share = within_limit(course["duration_s"], limit_s, Pace())
    chances = {key: course["success"][key] * share for key in ("probability", "low", "high")}
    return course | {"success": course["success"] | chances}


def find_feasibility(job_input: dict[str, Any], progress: JobControl) -> dict[str, Any]:
    """The planner's work: plain values in and out. "It cannot be done" is an answer, not a failure."""
    from motion.search.mending import with_mend  # late: the kernels are for the worker
    from motion.search.plan import plan_courses

    scene = scene_from_dict(job_input["scene"])
    try:
        courses = plan_courses(
            scene,
            aim=job_input.get("aim", "all"),
            alternatives=1,
            progress=progress.tell,
            deadline=progress.seconds_left,
            cancelled=progress.stopped,
        )
    except NoCourseError as error:
        said = with_mend(scene, error, cancelled=progress.out_of_time)
        drawn = {"tightest": said.tightest, "mend": mend_to_json(said.mend)}
        return {"feasible": False, "code": said.code, "words": said.message} | drawn | refusal_to_json(said.message)
    return {"feasible": True, "courses": {course.aim: _summary(course) for course in courses}}


def _summary(course: PlannedCourse) -> dict[str, Any]:
    check = course.check
    return {
        "duration_s": check.duration_s,
        "room_mm": check.clearance_mm if math.isfinite(check.clearance_mm) else None,
        "success": asdict(check.success) if check.success else None,
        "start": pose_to_dict(course.start),
        "actions": actions_to_json(course.actions),
    }


def scene_of(
    document: Document, index: int, robot: Robot | None, club: Club, numbers: RobotNumbers | None = None
) -> Scene:
    """Tier ``index`` of a document, saved or not, as a robot meets it; None stands for a plain body."""
    tier, table = document["tiers"][index], document["table"]
    version = MissionVersion(
        mission=Mission(title=document["title"]),
        title=document["title"],
        width_mm=table["width_mm"],
        depth_mm=table["depth_mm"],
        base=document["base"],
        start=document["start"],
        target=document["target"],  # told by its contact: each robot stands as far back as its own nose is long
        margin_mm=document["margin_mm"],
    )
    version.missing = missing_of(document)
    edition = TierVersion(
        version=version,
        tier=Tier(name=tier["name"]),
        name=tier["name"],
        obstacles=tier["obstacles"],
        keep_outs=tier["keep_outs"],
        more_targets=more_targets_of(tier),
        any_order=tier.get("order") == "any",
    )
    numbers = numbers or (numbers_for(robot) if robot else unmeasured_numbers())
    # Without a name, so that tiers with the same things in the way share one answer.
    return replace(scene_for(edition, robot or _plain_robot(club), numbers=numbers), name="")


def _plain_robot(club: Club) -> Robot:
    return Robot(club=club, name=PLAIN_NAME, travel_footprint=PLAIN_BODY)


def robots_for(club: Club, choice: str) -> list[Robot | None]:
    """Whom the question is for: "all" in service, one by its key, else the typical one (None: the club has none)."""
    in_service = Robot.objects.filter(club=club, state=RobotState.IN_SERVICE)
    if choice == "all" and in_service:
        return list(in_service)
    chosen = in_service.filter(pk=choice).first() if choice.isdecimal() and len(choice) < 15 else None
    return [chosen or typical_robot(club)]


@transaction.atomic
def ask_feasibility(
    club: Club,
    coach: Coach,
    document: Document,
    keys: Sequence[str],
    robots: Sequence[Robot | None],
    *,
    now: dt.datetime,
    before: Sequence[FeasibilityQuestion] = (),
) -> list[FeasibilityQuestion]:
    """Ask the planner about every tier of a document for each robot; tiers alike share one job.

    ``before`` are the questions that this replaces: what of theirs still waits or runs is stopped.
    """
    asked: list[FeasibilityQuestion] = []
    for index, (key, tier) in enumerate(zip(keys, document["tiers"], strict=True)):
        for robot in robots:
            scene = scene_of(document, index, robot, club)
            problems = scene_problems(scene)
            job = None
            if not problems:
                job = ask_for_job(club, FEASIBILITY, {"scene": scene_to_dict(scene)}, asked_by=coach, now=now).pk
            asked.append(question_about(key, tier, robot, job, problems))
    _stop_others(club, coach, before, {question.job for question in asked}, now)
    return asked


def question_about(
    key: str, tier: dict[str, Any], robot: Robot | None, job: int | None, problems: Sequence[SceneError]
) -> FeasibilityQuestion:
    """A tier of a document for a robot, with the job that answers it, or the first thing wrong with the drawing."""
    words = problems[0].message if problems else ""
    return FeasibilityQuestion(
        key,
        tier["name"],
        tier["kind"],
        tier["time_limit_s"],
        robot.name if robot else PLAIN_NAME,
        job,
        words,
        robot.pk if robot else None,
    )


def _stop_others(
    club: Club, coach: Coach, before: Sequence[FeasibilityQuestion], wanted: set[int | None], now: dt.datetime
) -> None:
    old = {question.job for question in before} - wanted
    rows = Job.objects.filter(club=club, kind=FEASIBILITY, asked_by=coach, pk__in=[pk for pk in old if pk])
    for job in rows.filter(state__in=[JobState.WAITING, JobState.RUNNING]):
        cancel_job(job, now=now)


def answers_to(club: Club, questions: Sequence[FeasibilityQuestion]) -> list[FeasibilityAnswer]:
    """What is known by now. One query."""
    jobs = {
        job.pk: job
        for job in Job.objects.select_related("club").filter(club=club, pk__in=[q.job for q in questions if q.job])
    }
    answers = []
    for question in questions:
        job = jobs.get(question.job or 0)
        answers.append(FeasibilityAnswer(question, job, verdict_of(job, question, club.unit)))
    return answers


def verdict_of(job: Job | None, question: FeasibilityQuestion, unit: str) -> Verdict:
    """Yes, no or not known yet, and why."""
    if question.words:
        return Verdict(False, plainly(question.words, unit), "drawing")
    if job is None or job.state in (JobState.WAITING, JobState.RUNNING):
        return Verdict(None)
    if job.state != JobState.DONE:
        words = plainly(job.why_not, unit) or _("The planner was stopped before it had an answer; ask again.")
        return Verdict(None, words)
    result = job.result or {}
    if not result["feasible"]:
        return Verdict(False, plainly(kept(result.get("said", result["words"])), unit), result.get("code", ""))
    fastest = min(course["duration_s"] for course in result["courses"].values())
    if question.kind == TierKind.TIMED and question.limit_s and fastest > question.limit_s:
        words = _("Even the fastest course found takes %(seconds)s s; the limit is %(limit)s s. Allow more.")
        told = {"seconds": figure_said(fastest, 1), "limit": in_own_digits(f"{question.limit_s:g}")}
        return Verdict(False, words % told, "limit_too_short")
    return Verdict(True, _room_words(result["courses"], unit))


def _room_words(courses: Mapping[str, dict[str, Any]], unit: str) -> str:
    rooms = [course["room_mm"] for course in courses.values() if course["room_mm"] is not None]
    if not rooms:
        return ""
    return _("Room to spare at the tightest place: %(room)s.") % {"room": length_said(max(rooms), unit)}


def suggested_limit(answers: Sequence[FeasibilityAnswer]) -> float | None:
    """A time limit from the predicted times of the robots that were asked about; None until all have answered."""
    steadiest = [answer.result.get("courses", {}).get("steadiest") for answer in answers]
    times = [course["duration_s"] for course in steadiest if course]
    if not times or any(answer.is_open for answer in answers):
        return None
    return math.ceil(max(times) * LIMIT_SLACK / LIMIT_STEP_S) * LIMIT_STEP_S
