"""What the page of a team's course shows: the draft, its map, what the check says, and the numbers to type."""

from __future__ import annotations

import math
import re
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

from django.utils.safestring import SafeString, mark_safe
from django.utils.translation import gettext as _
from django.utils.translation import gettext_noop, ngettext

from classroom.access import TeamSeat
from classroom.models import Robot
from classroom.robots.numbers import RobotNumbers, numbers_for
from classroom.site.figures import figure_said, length_said
from classroom.site.listed import strung
from missions.models import Tier, TierVersion
from motion.course.actions import Action, Check, Touch
from motion.course.plain_words import plainly, touches_in
from motion.scene.records import Pose, Scene
from motion.units import MM_PER_UNIT
from planning.courses.learned import known_robot
from planning.courses.pages.rests_on import rests_on
from planning.courses.rules.course_words import each_in_words
from planning.courses.rules.typing import CardRow, card_rows, driving
from planning.courses.scene_for import scene_for
from planning.courses.services.check_draft import check_draft
from planning.models import Course
from planning.preparing.checks import NotReadyError, one_change_now
from planning.team.draft import WAIT_S, TeamDraft, draft_actions, draft_of, first_start
from planning.team.measured import as_measured, in_doubt, survey_in_force
from planning.team.services.keep_draft import newest_plan

PLAIN_KINDS = (
    ("", gettext_noop("nothing")),
    ("drive", gettext_noop("Drive")),
    ("back", gettext_noop("Back up")),
    ("left", gettext_noop("Turn left")),
    ("right", gettext_noop("Turn right")),
    ("push", gettext_noop("Push")),
    ("lower", gettext_noop("Lower the tool")),
    ("raise", gettext_noop("Raise the tool")),
    ("wait", gettext_noop("Wait")),
)
#: What of a step spreads the runs, by the source of the spread.
_SPREADS = {
    "turn": gettext_noop("Most of the spread comes from step %(step)s: its turn."),
    "drift": gettext_noop("Most of the spread comes from step %(step)s: its heading along the leg."),
    "distance": gettext_noop("Most of the spread comes from step %(step)s: its length."),
    "scale": gettext_noop("Most of the spread comes from step %(step)s: its length."),
}


@dataclass(frozen=True)
class Hint:
    """A ladder of three rungs, each opened by the team: what, which step, by about how much (may be empty)."""

    what: str
    step: str
    size: str = ""


def course_page(
    seat: TeamSeat, tier: Tier, edition: TierVersion, robot: Robot, draft: TeamDraft, base: int
) -> dict[str, Any]:
    newest = newest_plan(seat, tier)
    plans = Course.objects.filter(team=seat.team, tier_version__tier=tier).visible_to_team().order_by("-number")[:12]
    return {
        "tab": "team_course",
        "tier": tier,
        "edition": edition,
        "robot": robot,
        "draft": draft,
        "base": base,
        "next": (newest.number if newest else 0) + 1,
        "plans": plans,
        "fixed_start": bool(edition.version.start),
        "tools": bool(robot.working_footprint or robot.tool_seconds),
        "wait_s": WAIT_S,
        "unit_mm": MM_PER_UNIT[seat.club.unit],
        "plain_kinds": [(kind, _(words)) for kind, words in PLAIN_KINDS],
        "plain_rows": plain_rows(draft),
        "newer": newest if newest and newest.number > base else None,
    } | verdict(seat, edition, robot, draft)


def draft_to_open(
    source: Course | None, edition: TierVersion, robot: Robot, *, put_right: bool
) -> tuple[TeamDraft, Course | None]:
    """The draft that the page begins with, and its plan if the numbers could be put right for what was measured since."""
    if source is None:
        return TeamDraft(first_start(edition), ()), None
    numbers = numbers_for(robot)
    right = draft_of(source, robot, numbers, put_right=True)
    own = right if put_right else draft_of(source, robot, numbers)
    measured_since = source.calibration_id != (numbers.calibration.pk if numbers.calibration else None)
    return own, source if measured_since and own != right else None


def plain_rows(draft: TeamDraft) -> list[tuple[str, int | str]]:
    """The draft for the form without script: a kind and a number without sign, and three empty rows."""
    words = {("drive", True): "back", ("turn", False): "left", ("turn", True): "right"}
    rows: list[tuple[str, int | str]] = [
        (words.get((step.do, step.n < 0), step.do), abs(step.n)) for step in draft.steps
    ]
    return rows + [("", "")] * 3


def verdict(seat: TeamSeat, edition: TierVersion, robot: Robot, draft: TeamDraft) -> dict[str, Any]:
    """The map and what the check says of a draft, with everything where the team's tape or picture has it."""
    found = survey_in_force(seat.team, edition)
    tape = {"measured": found, "in_doubt": in_doubt(edition, found)}
    edition = as_measured(edition, found)
    numbers = numbers_for(robot)
    unit = seat.club.unit
    scene = scene_for(edition, robot, numbers=numbers)
    actions = draft_actions(draft, robot)
    true = driving(actions, draft.start, robot, numbers).expected
    if not actions:
        return {"map": chart(scene, draft.start, (), None, unit), "check": None} | tape
    known = known_robot(robot, numbers)
    try:
        check = check_draft(seat.team, edition, robot, draft.start, actions, numbers=numbers, known=known)
    except NotReadyError:
        drawn = {"map": chart(scene, draft.start, true, None, unit)} | tape
        rows = card_rows(actions, robot, unit)
        return drawn | {"check": None, "waits": True, "rows": rows}
    drawn = {"map": chart(scene, draft.start, true, check, unit)} | tape
    return drawn | said(scene, check, true, actions, robot, numbers, known.runs, unit)


def said(
    scene: Scene,
    check: Check,
    true: tuple[Action, ...],
    told: tuple[Action, ...],
    robot: Robot,
    numbers: RobotNumbers,
    runs: int,
    unit: str,
) -> dict[str, Any]:
    """A check in words: state, hints, numbers to type, what to expect and what that rests on."""
    touching = met_by_body(check)
    rows = card_rows(told, robot, unit, check if check.clear else None)
    return {
        "check": check,
        "touching": touching,
        "hint": touch_hint(touching, rows, unit) if touching else ending_hint(check, true, scene, unit),
        "rows": rows,
        "worst": _worst(check, true),
        "chance": success_in_words(check),
        "each": each_in_words(check) if check.clear else "",
        "rests_on": rests_on(check, numbers, robot.name, runs),
        "lands": landing_in_words(check, unit),
    }


def success_in_words(check: Check) -> str:
    """ "About 84 in 100 runs should work (81 to 87)." """
    if not check.clear or check.success is None:
        return ""
    p = check.success
    return _("About %(runs)s in 100 runs should work (%(low)s to %(high)s).") % {
        "runs": figure_said(100 * p.probability),
        "low": figure_said(100 * p.low),
        "high": figure_said(100 * p.high),
    }


def landing_in_words(check: Check, unit: str) -> str:
    """How far 9 runs in 10 land from the middle to each side (1.645 standard deviations of a Gaussian)."""
    if check.landing is None:
        return ""
    if check.meetings:
        reaches = [
            _("%(size)s at the %(target)s")
            % {"size": length_said(1.645 * met.landing.lateral_sd_mm, unit), "target": met.name}
            for met in check.meetings
        ]
        return _("Nine runs in ten should land within so much to each side: %(sizes)s.") % {"sizes": ", ".join(reaches)}
    reach = length_said(1.645 * check.landing.lateral_sd_mm, unit)
    return _("Nine runs in ten should land within %(size)s to each side.") % {"size": reach}


def chart(
    scene: Any,
    start: Pose,
    true: tuple[Action, ...],
    check: Check | None,
    unit: str,
    *,
    met: Sequence[tuple[int, float, float]] = (),
) -> SafeString:
    from motion.picture.chart import course_svg  # late: it brings the kernels in, which the first page does without

    svg = course_svg(
        scene,
        standalone=False,
        unit=unit,
        start=start,
        actions=true,
        touches=touches_in(met_by_body(check), unit) if check else (),
        landing=check.landing if check else None,
        meetings=check.meetings if check else (),
        met=met,
    )
    return mark_safe(svg)


def met_by_body(check: Check) -> list[Touch]:
    """What the body meets on its way; the other touches say that the course does not do its task yet."""
    return [touch for touch in check.touches if touch.overlap_mm > 0]


def touch_hint(touching: list[Touch], rows: Sequence[CardRow], unit: str) -> Hint:
    first = touching[0]
    names = list(dict.fromkeys(touch.name or touch.what for touch in touching))
    about = max(touch.overlap_mm for touch in touching if touch.action == first.action)
    return Hint(
        what=_("The body touches %(things)s.") % {"things": strung([_with_the(name) for name in names])},
        step=_("It happens first in step %(step)s: %(does)s.")
        % {"step": first.action + 1, "does": rows[first.action].does},
        size=_("By about %(size)s. You need at least that much more room there.")
        % {"size": length_said(_roughly(about, unit), unit)},
    )


def _with_the(name: str) -> str:
    return name if name.startswith("the ") else _("the %(name)s") % {"name": name}


def ending_hint(check: Check, true: tuple[Action, ...], scene: Scene, unit: str) -> Hint | None:
    """For a course that touches nothing but does not do its task yet: the first thing that is missing.

    A step is named only when it is at fault: of a push that does not count, the one step that puts it right.
    """
    if not check.touches:
        return None
    first = check.touches[0]
    if first.what != "window":
        return Hint(what=plainly(first.message, unit), step=_where_missing(first, len(true)))
    in_unit = re.sub(r"(\d+) mm", lambda found: length_said(_roughly(float(found[1]), unit), unit), str(first.message))
    change = one_change_now(scene, check.poses[0], true, check)
    if change is None:
        words = _(
            "It is not one step alone. Look where your robot stands and points before it pushes, then go back step by step."
        )
    else:
        words = _("Look at step %(step)s. With another number there alone, the push counts.") % {
            "step": change.action + 1
        }
    what = _("It meets the %(target)s, but not in the way that counts.") % {"target": first.name}
    return Hint(what, words, in_unit)


def _where_missing(touch: Touch, steps: int) -> str:
    if touch.action < 0:
        return _("It is no step of yours: it is where you set your robot down.")
    if touch.action < steps:
        return _("Look at step %(step)s.") % {"step": touch.action + 1}
    if not steps:
        return _("Add your first step.")
    return ngettext(
        "Your step may be good. What is missing comes after it.",
        "Your %(steps)s steps may all be good. What is missing comes after step %(steps)s.",
        steps,
    ) % {"steps": steps}


def _roughly(mm: float, unit: str) -> float:
    """Up to the next whole unit: a hint, not the answer."""
    grain = max(MM_PER_UNIT[unit], 5.0)
    return grain * max(1, math.ceil(mm / grain))


def _worst(check: Check, true: tuple[Action, ...]) -> str:
    """Which step spoils the landing most."""
    if not check.clear or not check.shares:
        return ""
    share = max(check.shares, key=lambda s: s.fraction)
    if share.source == "start" or not 0 <= share.action < len(true):
        return _("Most of the spread comes from how you set the robot down.")
    return _(_SPREADS[share.source]) % {"step": share.action + 1}
