"""A team's draft as its tablet holds it: whole numbers of the steps that its robot can set.

On the wire it is {"start": {"x_mm", "y_mm", "heading_deg"} or null, "steps": [{"do", "n"}, ...]}: ``do`` is drive (negative
backs up), turn (positive to the left), push, lower, raise or wait, ``n`` the number of the robot's steps (of half seconds
for wait; none for the tool).
"""

from __future__ import annotations

import json
from collections.abc import Mapping, Sequence
from dataclasses import asdict, dataclass
from typing import Any

from django.utils.translation import gettext as _

from classroom.errors import InputError
from classroom.models import Robot
from missions.models import TierVersion
from motion.course.actions import Action, Drive, Push, Tool, Turn
from motion.scene.records import Pose
from motion.units import whole_number, wrap_deg
from planning.courses.rules.typing import Scales
from planning.courses.scene_for import pose_of
from planning.courses.told_today import told_today
from planning.errors import PlanningCode
from planning.models import Course

KINDS = ("drive", "turn", "push", "lower", "raise", "wait")
MOST_STEPS = 40
MOST_N = 5000
WAIT_S = 0.5
LONGEST_MM = 20_000.0


@dataclass(frozen=True)
class DraftStep:
    do: str
    n: int


@dataclass(frozen=True)
class TeamDraft:
    start: Pose
    steps: tuple[DraftStep, ...]

    @property
    def as_json(self) -> str:
        return json.dumps({"start": asdict(self.start), "steps": [asdict(step) for step in self.steps]})


def read_draft(data: Mapping[str, Any], robot: Robot, edition: TierVersion) -> TeamDraft:
    """From a form: ``draft`` as JSON, or without script the rows ``do-0``, ``n-0`` and so on.

    Raises
    ------
    InputError
        ``not_a_draft``, ``too_many_actions``, ``too_far``.
    """
    record = _record(data) if "draft" in data else {"start": None, "steps": _rows(data)}
    steps = record.get("steps")
    if not isinstance(steps, list):
        raise InputError(PlanningCode.NOT_A_DRAFT, _("This draft cannot be read. Load the page again."))
    if len(steps) > MOST_STEPS:
        raise InputError(
            PlanningCode.TOO_MANY_ACTIONS, _("A plan has at most %(most)s steps. Take some out.") % {"most": MOST_STEPS}
        )
    draft = TeamDraft(_start(record.get("start"), edition), tuple(_step(each) for each in steps))
    if sum(abs(step.n) for step in draft.steps if step.do in ("drive", "push")) * robot.distance_step_mm > LONGEST_MM:
        raise InputError(PlanningCode.TOO_FAR, _("That is longer than any table. Make a step shorter."))
    return draft


def draft_actions(draft: TeamDraft, robot: Robot) -> tuple[Action, ...]:
    """As typed: the numbers times the robot's steps."""
    heading, out = draft.start.heading_deg, []
    for step in draft.steps:
        action: Action
        if step.do == "turn":
            by = step.n * robot.turn_step_deg
            heading += by
            action = Turn(by_deg=by, to_deg=wrap_deg(heading))
        elif step.do == "drive":
            action = Drive(step.n * robot.distance_step_mm)
        elif step.do == "push":
            action = Push(step.n * robot.distance_step_mm)
        elif step.do == "wait":
            action = Tool("wait", step.n * WAIT_S)
        else:
            action = Tool(step.do, robot.tool_seconds)
        out.append(action)
    return tuple(out)


def draft_of(course: Course, robot: Robot, numbers: Scales, *, put_right: bool = False) -> TeamDraft:
    """A kept plan to draw on from, with the numbers to type that ``told_today`` gives it."""
    return draft_from(pose_of(course.start), told_today(course, robot, numbers, put_right=put_right), robot)


def draft_from(start: Pose, actions: Sequence[Action], robot: Robot) -> TeamDraft:
    """Actions as typed, as a draft."""
    return TeamDraft(start, tuple(_step_of(action, robot) for action in actions))


def first_start(edition: TierVersion) -> Pose:
    """The mission's start, or where the team chooses it the middle of the base, facing along the table."""
    if edition.version.start:
        return pose_of(edition.version.start)
    xs, ys = [p[0] for p in edition.version.base], [p[1] for p in edition.version.base]
    return Pose((min(xs) + max(xs)) / 2, (min(ys) + max(ys)) / 2, 0.0)


def _step_of(action: Action, robot: Robot) -> DraftStep:
    if isinstance(action, Turn):
        return DraftStep("turn", whole_number(action.by_deg / robot.turn_step_deg))
    if isinstance(action, Tool):
        return DraftStep(action.name, whole_number(action.seconds / WAIT_S) if action.name == "wait" else 0)
    return DraftStep(action.do, whole_number(action.distance_mm / robot.distance_step_mm))


def _record(data: Mapping[str, Any]) -> dict[str, Any]:
    try:
        record = json.loads(str(data["draft"]))
    except (ValueError, RecursionError):
        record = None
    if not isinstance(record, dict):
        raise InputError(PlanningCode.NOT_A_DRAFT, _("This draft cannot be read. Load the page again."))
    return record


def _rows(data: Mapping[str, Any]) -> Sequence[dict[str, Any]]:
    """The plain form: kinds drive, back, left, right, push, lower, raise; an empty kind leaves the row out."""
    rows = []
    for i in range(MOST_STEPS):
        do, text = str(data.get(f"do-{i}", "")), str(data.get(f"n-{i}", "")).strip()
        if not do:
            continue
        n = int(text) if text.isascii() and text.isdigit() and len(text) < 5 else 0
        kind, sign = {"back": ("drive", -1), "left": ("turn", 1), "right": ("turn", -1)}.get(do, (do, 1))
        rows.append({"do": kind, "n": sign * n})
    return rows


def _step(record: Any) -> DraftStep:
    do, n = (record.get("do"), record.get("n")) if isinstance(record, dict) else (None, None)
    if do not in KINDS or not isinstance(n, int) or isinstance(n, bool) or abs(n) > MOST_N:
        raise InputError(
            PlanningCode.NOT_A_DRAFT, _("One step of this draft cannot be read. Take it out and add it again.")
        )
    if do in ("push", "wait") and n < 0:
        raise InputError(PlanningCode.NOT_A_DRAFT, _("A push and a wait only go forward. Use “Back up” to go back."))
    return DraftStep(do, n)


def _start(record: Any, edition: TierVersion) -> Pose:
    """The mission's own start wins; else what the team chose, as long as it is on the table."""
    if edition.version.start or not isinstance(record, dict):
        return first_start(edition)
    values = [record.get(key) for key in ("x_mm", "y_mm", "heading_deg")]
    if not all(isinstance(value, (int, float)) and not isinstance(value, bool) for value in values):
        raise InputError(PlanningCode.NOT_A_DRAFT, _("The start of this draft cannot be read. Set it again."))
    x, y, heading = (float(value) for value in values)  # type: ignore[arg-type]
    version = edition.version
    if not (0 <= x <= version.width_mm and 0 <= y <= version.depth_mm and abs(heading) <= 360):
        raise InputError(PlanningCode.START_OFF_TABLE, _("Start on the table, inside the base."))
    return Pose(x, y, heading)
