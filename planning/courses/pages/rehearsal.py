"""A rehearsal for the script that plays it on the map: what stands when and where, and every word that it shows."""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable, Sequence
from typing import TYPE_CHECKING, Any

from django.http import JsonResponse
from django.utils.translation import gettext as _
from django.utils.translation import gettext_noop, ngettext_lazy

from classroom.errors import HelmroomError
from motion.course.actions import Action
from motion.scene.records import Polygon, Pose, Scene
from planning.courses.plan_today import PlanToday
from planning.courses.rules.typing import CardRow, card_rows, driving
from planning.preparing.checks import NotReadyError
from planning.preparing.kernels import kernels_ready

if TYPE_CHECKING:
    from motion.chance.pretend_runs import PretendRun
    from motion.picture.rehearsal import Rehearsal

#: For each way a pretend run may end: its shape on the map, its word there, and what one or several of them do.
ENDINGS = {
    "works": (
        "ring",
        gettext_noop("works"),
        ngettext_lazy("%(count)s of %(all)s works.", "%(count)s of %(all)s work.", "count"),
    ),
    "touches": (
        "cross",
        gettext_noop("touches"),
        ngettext_lazy(
            "%(count)s of %(all)s touches %(name)s in step %(step)s.",
            "%(count)s of %(all)s touch %(name)s in step %(step)s.",
            "count",
        ),
    ),
    "left": (
        "lozenge",
        gettext_noop("left"),
        ngettext_lazy(
            "%(count)s of %(all)s comes too far to the left.", "%(count)s of %(all)s come too far to the left.", "count"
        ),
    ),
    "right": (
        "lozenge",
        gettext_noop("right"),
        ngettext_lazy(
            "%(count)s of %(all)s comes too far to the right.",
            "%(count)s of %(all)s come too far to the right.",
            "count",
        ),
    ),
    "slanted": (
        "lozenge",
        gettext_noop("slanted"),
        ngettext_lazy("%(count)s of %(all)s pushes at a slant.", "%(count)s of %(all)s push at a slant.", "count"),
    ),
    "short": (
        "lozenge",
        gettext_noop("short"),
        ngettext_lazy(
            "%(count)s of %(all)s stops too early in its push.",
            "%(count)s of %(all)s stop too early in their push.",
            "count",
        ),
    ),
    "far": (
        "lozenge",
        gettext_noop("far"),
        ngettext_lazy("%(count)s of %(all)s pushes too far.", "%(count)s of %(all)s push too far.", "count"),
    ),
    "outside": (
        "wedge",
        gettext_noop("not home"),
        ngettext_lazy("%(count)s of %(all)s does not come home.", "%(count)s of %(all)s do not come home.", "count"),
    ),
    "late": (
        "wedge",
        gettext_noop("late"),
        ngettext_lazy("%(count)s of %(all)s is too slow.", "%(count)s of %(all)s are too slow.", "count"),
    ),
}


def plan_rehearsal(today: PlanToday) -> dict[str, Any]:
    """Of a kept plan: the poses and times of its check, the numbers of its card.

    Raises
    ------
    NotReadyError
        As ``rehearsal_record``.
    """
    robot, unit = today.course.robot, today.course.team.club.unit
    drives = driving(today.told, today.start, robot, today.numbers)
    rows = card_rows(today.told, robot, unit)
    return rehearsal_record(today.scene, today.start, today.true, drives.told, rows)


def rehearsal_answer(make: Callable[[], dict[str, Any]]) -> JsonResponse:
    """The record as the script asks for it; a refusal in words where there is none."""
    try:
        return JsonResponse(make())
    except HelmroomError as error:
        return JsonResponse({"wrong": error.message}, status=error.status)


def rehearsal_record(
    scene: Scene, start: Pose, true: Sequence[Action], told: Sequence[Action], rows: Sequence[CardRow]
) -> dict[str, Any]:
    """Lengths in mm with +y up, angles in degrees, times in seconds; ``rows`` are the numbers to type, step by step.

    Raises
    ------
    NotReadyError
        ``planner_not_ready``: the kernels are not compiled yet.
    """
    if not kernels_ready():
        raise NotReadyError
    from motion.picture.rehearsal import rehearse  # late: it brings the kernels in
    from motion.picture.sheet import ChartSheet

    seen = rehearse(scene, start, true, told=told)
    travel = scene.robot.footprint
    return {
        "depth_mm": scene.depth_mm,
        "letter_mm": round(ChartSheet(scene.width_mm, scene.depth_mm).font, 1),
        "travel": [_ring(part) for part in travel],
        "working": [_ring(part) for part in scene.robot.working_footprint or travel],
        "targets": [_ring(outline) for outline in seen.targets],
        "poses": [_pose(pose) for pose in seen.poses],
        "steps": [_step(seen, i, rows[i]) for i in range(len(seen.steps))],
        "ghosts": [_ghost(ghost) for ghost in seen.ghosts],
        "tally": tally(seen.ghosts),
    }


def tally(ghosts: Sequence[PretendRun]) -> list[dict[str, Any]]:
    """How many end how, in the order of ``ENDINGS``: shape, number and words."""
    counted = Counter(
        (ghost.ending, ghost.name, ghost.action if ghost.ending == "touches" else None) for ghost in ghosts
    )
    order = list(ENDINGS)
    lines = []
    for (ending, name, step), count in sorted(counted.items(), key=lambda each: order.index(each[0][0])):
        shape, _word, words = ENDINGS[ending]
        said = {"count": count, "all": len(ghosts), "name": _with_the(name), "step": (step or 0) + 1}
        lines.append({"shape": shape, "words": words % said})
    return lines


def _with_the(name: str) -> str:
    return name if name.startswith(("the ", "obstacle", "keep-out")) else _("the %(name)s") % {"name": name}


def _step(seen: Rehearsal, i: int, row: CardRow) -> dict[str, Any]:
    step = seen.steps[i]
    carried = step.carried and {
        "target": step.carried.target,
        "by": [round(each, 2) for each in step.carried.by],
        "after": round(step.carried.after_share, 5),
    }
    return {
        "begins": round(step.begins_s, 4),
        "ramp": round(step.pacing.ramp_s, 4),
        "cruise": round(step.pacing.cruise_s, 4),
        "ends": round(step.ends_s, 4),
        "lowered": step.lowered,
        "carried": carried,
        "words": _("%(does)s: type") % {"does": row.does} if row.turn_words else row.words,
        "type": row.turn or row.distance or row.seconds,
    }


def _ghost(ghost: PretendRun) -> dict[str, Any]:
    shape, word, _words = ENDINGS[ghost.ending]
    fails = None
    if ghost.action is not None:
        fails = {"step": ghost.action, "share": round(ghost.share, 4), "shape": shape, "word": _(word)}
    return {"poses": [_pose(pose) for pose in ghost.poses], "fails": fails}


def _pose(pose: Pose) -> list[float]:
    return [round(pose.x_mm, 2), round(pose.y_mm, 2), round(pose.heading_deg, 3)]


def _ring(outline: Polygon) -> list[list[float]]:
    return [[round(x, 1), round(y, 1)] for x, y in outline]
